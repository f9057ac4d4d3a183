"""Many nights on many cores, processes and machines. Start with `executors`."""
