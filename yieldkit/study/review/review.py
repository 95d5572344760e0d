"""A plant's first year beside what its site lets expect, and what to look at first."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr

from yieldkit.base.errors import refuse
from yieldkit.config.site.display import refuse_other_than_site
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.limits import named_wiring
from yieldkit.study.handover.diffuse_share import MOST_SHARE, SHARE
from yieldkit.study.handover.reference_errors import REFERENCE_ERRORS, SKY_PLANE
from yieldkit.study.logs.looked_at import looked_at
from yieldkit.study.logs.plant_log import PlantLog
from yieldkit.study.review.beside import (
    OF_THE_SITE,
    Beside,
    beside,
    measured_power,
    of_ac_power,
    refuse_other_inputs,
)
from yieldkit.study.review.bins import bins_of
from yieldkit.study.review.candidates import SUN
from yieldkit.study.review.causes import Chosen, chosen_causes, no_causes
from yieldkit.study.review.counted import counted_signs, unexplained
from yieldkit.study.review.plateau import held, plateaus
from yieldkit.study.review.reckoned import (
    DIFFUSE_PERCENT,
    DIRECT_PERCENT,
    reckoned_planes,
    untold,
)
from yieldkit.study.review.resistance import resistances
from yieldkit.study.review.result import AZIMUTH, CLOCK, TILT, Review, Sign
from yieldkit.study.review.shapes import probe_of
from yieldkit.study.review.signs import fitted_signs
from yieldkit.study.review.tables import losses, tables
from yieldkit.study.review.unknowns import unknowns
from yieldkit.study.simulation.provenance import site_hash, versions

_FEWEST_BINS = 20
_NEAR_MIN = 15.0
"""Minutes that planes which lie otherwise than drawn may look like."""
_AC_ONLY = (
    "No DC power, volts or amperes were written: hours of the day are those of the inverter's AC "
    "power for all its inputs, which can't be told apart, and no shapes are looked at for causes."
)


def review(
    site: Site, wiring: Wiring | str | None, log: PlantLog, weather: xr.Dataset | None = None
) -> Review:
    """Hold a log against what a site lets expect, and say what to look at first.

    Parameters
    ----------
    site : Site
        The building, its planes, inverters and wirings.
    wiring : Wiring, str or None
        The wiring that the log is of, or its name; the one that the log names, else the site's
        first, if left out.
    log : PlantLog
        What inverters and sensors wrote down. What of it doesn't count is looked for, unless its
        clock was looked at already.
    weather : Dataset, optional
        Canonical weather of the same steps; that of the log if left out, else the site's own where
        it covers the same time.

    Returns
    -------
    Review
        Months, hours of the day, ratios with their bands, and causes with their spans.

    Raises
    ------
    InputError
        If the log is of other inputs, has too little light to conclude anything, or there is no
        weather of its time.
    """
    refuse_other_than_site(site, Site)
    name = log.data.attrs.get("wiring") if wiring is None else wiring
    wired = name if isinstance(name, Wiring) else named_wiring(site, name)
    refuse_other_inputs(site, wired, log)
    if not log.clock and bool(np.isfinite(measured_power(log.data)).any()):
        log = looked_at(site, wired, log)
    own = beside(site, wired, log, weather)
    flat = plateaus(own)
    own = replace(own, held=held(own, flat))
    direct = bool(np.isfinite(own.power).any())
    own = own if direct else of_ac_power(own)
    bins = bins_of(own)
    if bins.log_ratio.size < _FEWEST_BINS:
        refuse(
            f"log {log.name}",
            f"{int(own.bright.any(axis=1).sum())} steps in good light that count",
            "some days of steps in good light that count: less says nothing of a plant",
            remedy="Look at what is left out of the log, and why",
        )
    probe = probe_of(own, bins)
    found = unknowns(probe)
    chosen = chosen_causes(probe, found) if direct else no_causes(probe, found)
    counted = counted_signs(own, flat)
    fitted = fitted_signs(own, bins, chosen)
    counted, fitted = _one_clock(counted, fitted, chosen)
    strange = unexplained(own, bins, found, chosen) if direct else ()
    every = (*counted, *fitted, *strange)
    data = tables(own, bins, found).assign_attrs(site_sha256=site_hash(site), versions=versions())
    return Review(
        site.site.name,
        wired.name,
        log.name,
        data if direct else _without_inputs(data),
        tuple(sorted(every, key=_first)),
        flat,
        resistances(site, log),
        losses(own, bins, found) if direct else losses(own, bins, found)[-1:],
        _rests_on(own),
        (*own.log.remarks, *(untold(own) if direct else (_AC_ONLY,))),
    )


def _one_clock(
    counted: tuple[Sign, ...], fitted: tuple[Sign, ...], chosen: Chosen
) -> tuple[tuple[Sign, ...], tuple[Sign, ...]]:
    """Return what was counted and what was fitted with the clock in one of them only.

    The light's own course says more of the clock than the shapes that it leaves; but where planes
    lie otherwise than drawn that course is theirs, and a few minutes are no clock.
    """
    clocks = [each for each in counted if each.kind == CLOCK]
    if not clocks:
        return counted, fitted
    suns = [each.of == (SUN,) for each in chosen.causes if each.kind == CLOCK]
    moved = any(each.kind in (TILT, AZIMUTH) for each in chosen.causes)
    if moved and not any(suns) and abs(clocks[0].size.value) < _NEAR_MIN:
        return tuple(each for each in counted if each.kind != CLOCK), fitted
    return counted, tuple(each for each in fitted if each.kind != CLOCK or not all(suns))


def _without_inputs(data: xr.Dataset) -> xr.Dataset:
    """Return a review's Dataset without what is of single inputs where only AC was written."""
    of_inputs = ("dc_measured", "dc_ratio", "between", "year_ratio", "month_hour_ratio")
    nothing = {name: xr.full_like(data[name], np.nan) for name in of_inputs}
    return data.assign(nothing)


def _first(sign: Sign) -> tuple[bool, float]:
    """Return the order in which signs are looked at: clocks first, then by what they take."""
    return sign.kind != CLOCK, -abs(sign.lost_kwh) if sign.lost_kwh == sign.lost_kwh else 0.0


def _rests_on(own: Beside) -> tuple[str, ...]:
    """Return on what expectation and bands rest, in sentences."""
    said = [f"Expected from {own.light}, at the log's own steps; only steps that count on both."]
    if own.light == OF_THE_SITE:
        said.append("No light was measured beside the log, so that bands are wide.")
    spreads = ", ".join(
        f"{each.words} {each.spread:g} {each.unit}"
        for key, each in REFERENCE_ERRORS.items()
        if not key.startswith("reading")
    )
    said.append(f"Bands hold what 99 of 100 right plants show, by these spreads: {spreads}.")
    planes = reckoned_planes(own)
    if planes:
        mean = REFERENCE_ERRORS[SKY_PLANE].spread
        said.append(
            f"No sensor measured light in {', '.join(planes)}: what is reckoned there may be off "
            f"by {mean:g} % in the mean, and from one part of the day to the next by "
            f"{DIRECT_PERCENT:g} % of direct and {DIFFUSE_PERCENT:g} % of diffuse light, and by "
            f"what {100.0 * SHARE:g} % more or less of all light being diffuse makes of it, up to "
            f"{100.0 * MOST_SHARE:g} % at a low sun."
        )
    return (*said, *own.prepared.remarks)
