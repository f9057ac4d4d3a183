"""What campaigns cost, and when the dearer of two setups pays."""
