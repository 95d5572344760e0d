"""What may hold the AC power, as codes."""

from __future__ import annotations

AC_LIMIT: dict[str, int] = {
    "none": 0,
    "maximum power": 1,
    "apparent power": 2,
    "amperes": 3,
    "export": 4,
    "derating": 5,
    "voltage-dependent power": 6,
}
"""What limits the AC power, and its code."""
