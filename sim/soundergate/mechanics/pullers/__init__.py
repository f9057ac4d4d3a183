"""What pulls: an animal, a solenoid, an air cylinder."""
