"""What a shifted clock probably is, and the whole of what to write into the weather block."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from yieldkit.base.time_zones import zone_name

_ZONE_RASTER_MIN = 30.0
_LABELS = {"start": 0.0, "middle": 0.5, "end": 1.0}
_FURTHEST_ZONES_MIN = (-720.0, 840.0)


def remedy(attrs: Mapping[str, Any], shift_min: float, within_min: float) -> tuple[str, str, str]:
    """Return the verdict, what the shift probably is, and what to write.

    Parameters
    ----------
    attrs : mapping
        Attributes of canonical weather: zone, step, sampling, label.
    shift_min : float
        What must be added to the declared instants so that they agree with the sun [min].
    within_min : float
        How well the shift is known [min].

    Returns
    -------
    tuple of str
        "offset" (the instant lies within the step that was declared) or "zone"; a sentence
        without its capital; keys of the weather block, alternatives joined by "or".
    """
    step = attrs["interval_s"] / 60.0
    zone_min = attrs["utc_offset_s"] / 60.0
    snapshot = attrs["sampling"] == "snapshot"
    share = 0.0 if snapshot else _LABELS[attrs["label"]]
    declared = attrs["sun_offset_s"] / 60.0 if snapshot else step * (0.5 - share)
    found = declared + shift_min
    own = _way(found, step, within_min, zone_min)
    utc = _way(found - zone_min, step, within_min, 0.0) if zone_min else ""
    turn = _ZONE_RASTER_MIN * round(shift_min / _ZONE_RASTER_MIN)
    as_declared = turn and abs(shift_min - turn) <= within_min
    turned = _way(declared, step, within_min, zone_min - turn) if as_declared else ""
    if -within_min <= found + share * step <= step + within_min:
        text = f"values hold {found:+.0f} minutes from the time written beside them"
        return "offset", text, _either(own, turned)
    if utc:
        text = f"this file probably stores UTC under a header of {zone_name(int(60 * zone_min))}"
        return "zone", text, _either(utc, own, turned)
    text = f"the clock is {shift_min / 60.0:+.2g} h off the sun: a wrong zone or label?"
    return "zone", text, _either(own, turned)


def _way(after: float, step: float, within: float, zone_min: float) -> str:
    """Return how a file is read in which values hold so long after their label, or nothing."""
    if not _FURTHEST_ZONES_MIN[0] <= zone_min <= _FURTHEST_ZONES_MIN[1]:
        return ""
    zone = f"zone: {zone_name(int(60 * zone_min))}" if zone_min else "zone: UTC"
    for label, share in _LABELS.items():
        if step > 2.0 * within and abs(after - step * (0.5 - share)) <= within:
            alike = f" (or snapshot, sun_offset_min: {after:.0f})" if label == "middle" else ""
            return f"{zone}, sampling: mean, label: {label}{alike}"
    if -within <= after <= step + within:
        return f"{zone}, sampling: snapshot, sun_offset_min: {after:.0f}"
    return ""


def _either(*ways: str) -> str:
    remedies = [way for way in dict.fromkeys(ways) if way]
    return ", or ".join(remedies) if remedies else "state zone, sampling and label anew"


def solar_noon(attrs: Mapping[str, Any]) -> str:
    """Return the mean solar noon by the file's clock, as hh:mm."""
    minutes = round(720.0 - 4.0 * attrs["longitude"] + attrs["utc_offset_s"] / 60.0) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
