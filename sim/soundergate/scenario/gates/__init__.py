"""The gate of an opening: a module for each kind, and `choice`, which picks by what is written.

Lengths m, masses kg, forces N, torques N m, angles rad, speeds m/s; coefficients and shares are
plain numbers. What a key does to the closing curve is told in `soundergate.mechanics`.
"""
