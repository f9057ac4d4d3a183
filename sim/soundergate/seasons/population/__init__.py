"""What removing pigs does to the number of them on a property."""
