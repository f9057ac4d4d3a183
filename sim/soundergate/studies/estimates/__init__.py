"""Estimates and their intervals: exact sums over nights, one number a night."""
