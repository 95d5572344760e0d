"""Whether self-use is what it is, or the most it can be: sums over long steps cover one another."""

from __future__ import annotations

from yieldkit.study.simulation.load import load_step_s
from yieldkit.study.simulation.prepare import Prepared

_SHORT_S = 300
"""In steps of so many seconds a household's load and a plant's power are hardly ever cut short."""


def why_upper_bound(prepared: Prepared) -> str:
    """Return why self-use is an upper bound, in words; empty where it is none.

    Within a step of an hour the load may come when the plant gives nothing, while their means lie
    on one another: the least of two means is never below the mean of the least.

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    """
    reasons = []
    within = prepared.within
    interval_s = round(float(prepared.weather.attrs["interval_s"]))
    if interval_s > _SHORT_S and (within is None or within.minutes is None):
        snapshots = prepared.weather.attrs["sampling"] == "snapshot"
        known = "snapshots every" if snapshots else "means of"
        reasons.append(f"the plant's power is known in {known} {interval_s / 60:g} min")
    load_s = load_step_s(prepared)
    if load_s > _SHORT_S:
        reasons.append(f"the load in steps of {load_s / 60:g} min")
    return ", ".join(reasons)
