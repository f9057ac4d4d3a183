"""Constants of nature and of trade units, once for the whole package. SI."""

from __future__ import annotations

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s^2 (ISO 80000-3; 3rd CGPM, 1901)."""

# Exact since the international yard and pound (1959).
INCH = 0.0254
FOOT = 0.3048
LB = 0.45359237
LBF = LB * GRAVITY
"""N in a pound-force."""
