"""Figures of a review as cells of tables, on a page and on a terminal: never without their span."""

from __future__ import annotations

import math

from yieldkit.study.review.result import Sign, Span

NOTHING = "-"
BELOW, ABOVE = "BELOW", "ABOVE"
_ALL_MONTHS, _ALL_DAY = "all months", "all day"


def ratio(value: float, low: float, high: float, digits: int = 2) -> str:
    """Return a ratio with its band, and whether it lies outside.

    Parameters
    ----------
    value, low, high : float
        Ratio and band [1]; nan where nothing counts.
    digits : int
        Behind the point.
    """
    if math.isnan(value):
        return NOTHING
    if math.isnan(low) or math.isnan(high):
        return f"{value:.{digits}f} (no band)"
    outside = f" {BELOW}" if value < low else f" {ABOVE}" if value > high else ""
    return f"{value:.{digits}f} ({low:.{digits}f} to {high:.{digits}f}){outside}"


def span(own: Span, unit: str, digits: int = 1) -> str:
    """Return an estimate with its span.

    Parameters
    ----------
    own : Span
        The estimate.
    unit : str
        Its unit.
    digits : int
        Behind the point.
    """
    if math.isnan(own.value):
        return NOTHING
    told = f"{own.value:.{digits}f} {unit}"
    if math.isnan(own.low) or own.low == own.high:
        return told
    return f"{told} ({own.low:.{digits}f} to {own.high:.{digits}f})"


def energy(value: float) -> str:
    """Return an energy [kWh]."""
    if math.isnan(value):
        return NOTHING
    if abs(value) < 0.05:
        return "0"
    return f"{value:,.0f}" if abs(value) >= 20.0 else f"{value:.1f}"


def duration(value: float) -> str:
    """Return a time [h]."""
    return f"{value:,.0f}" if value >= 20.0 or value == 0.0 else f"{value:.1f}"


def when(sign: Sign) -> str:
    """Return the months and hours in which a sign shows."""
    return f"{_months(sign.months)}, {_hours(sign.hours)}"


def _months(months: tuple[str, ...]) -> str:
    if not months:
        return _ALL_MONTHS
    return months[0] if len(months) == 1 else f"{months[0]} to {months[-1]} ({len(months)})"


def _hours(hours: tuple[int, ...]) -> str:
    if not hours:
        return _ALL_DAY
    runs: list[list[int]] = []
    for hour in sorted(hours):
        if runs and hour == runs[-1][1]:
            runs[-1][1] = hour + 1
        else:
            runs.append([hour, hour + 1])
    return ", ".join(f"{first} to {end} h" for first, end in runs)


def sure(sign: Sign) -> str:
    """Return how far a sign lies from nothing."""
    return "counted" if math.isinf(sign.deviations) else f"{abs(sign.deviations):.1f} sigma"
