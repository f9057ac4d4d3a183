"""How shared functions and the kernel are compiled, and where compiled code is kept."""
