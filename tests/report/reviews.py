"""Reviews with invented figures, for what is shown of them."""

import numpy as np
import xarray as xr

from yieldkit.study.logs.plant_log import CLIPPED, COUNTED, MISSING, NIGHT, REASONS
from yieldkit.study.review.result import (
    DIRT,
    OUTAGE,
    SHADOW,
    Loss,
    Plateau,
    Resistance,
    Review,
    Sign,
    Span,
)
from yieldkit.study.simulation.provenance import site_hash, versions

MONTHS = [f"2026-{month:02d}" for month in range(1, 13)]
SHAPE = np.array([2.0, 3.5, 6.0, 8.5, 10.5, 11.0, 11.5, 10.0, 7.0, 4.5, 2.5, 1.5])


def invented_review(site, wiring, signs=None, log="log.yaml", ac=True):
    """Return a review of a wiring of a site, with invented figures."""
    trackers = [site.input_name(each) for each in wiring.trackers]
    inverters = [each.name for each in site.inverters] or ["inverter"]
    data = _data(trackers, inverters, ac).assign_attrs(
        site=site.site.name,
        wiring=wiring.name,
        log=log,
        time_zone="UTC+01:00",
        utc_offset_s=3600,
        interval_s=600,
        light="measured on east and west",
        rated_kw=12.5,
        site_sha256=site_hash(site),
        versions=versions(),
        **{"from": "2026-01-01 00:00", "to": "2026-12-31 23:50"},
    )
    one, last = trackers[0], trackers[-1]
    return Review(
        site.site.name,
        wiring.name,
        log,
        data,
        _signs(one, last) if signs is None else signs,
        (
            Plateau(one, 5010.0, 5000.0, 41.5, f"{one} goes flat at 5,010 W, as it should."),
            Plateau(last, np.nan, np.nan, 0.0, f"{last} never goes flat."),
        ),
        tuple(
            Resistance(name, Span(0.302, 0.29, 0.314), 0.3, 0.12, f"{name}: as it was drawn.")
            for name in inverters
        )
        if ac
        else (),
        (
            *(Loss(name, Span(2.1, 0.4, 3.7)) for name in trackers),
            Loss("all inputs", Span(3.0, 1.6, 4.3)),
        ),
        ("Light: measured by two pyranometers.", "Bands: 3 % sensor, 1.5 % modules, assumed."),
        ("Rows from 2026-03-29 02:00 were missing: 60 minutes.",),
    )


def _signs(one, last):
    return (
        Sign(
            SHADOW,
            last,
            f"{last} gives 22 % less from 16 to 18 h, from April to August: a shadow.",
            "Look for what stands in the west of its modules at that hour.",
            (16, 17),
            tuple(MONTHS[3:8]),
            Span(22.0, 18.0, 26.0),
            "%",
            9.7,
            143.0,
        ),
        Sign(
            DIRT,
            one,
            f"{one} gives 5 % less in all hours.",
            "Look at the glass of its modules.",
            (),
            (),
            Span(5.0, 2.0, 8.0),
            "%",
            3.2,
            97.0,
        ),
        Sign(
            OUTAGE,
            "inverter",
            "It stood still for 31 hours of good light in October.",
            "Ask its list of events.",
            (),
            (MONTHS[9],),
            Span(31.0, 31.0, 31.0),
            "h",
            np.inf,
            np.nan,
        ),
    )


def _data(trackers, inverters, ac):
    rng = np.random.default_rng(1)
    month, hour = len(MONTHS), np.arange(24)
    lit = (hour > 5) & (hour < 20)
    dc = 40.0 * SHAPE[:, None] * np.ones(len(trackers))
    parts = {
        "dc_expected": (("month", "tracker"), dc),
        "pr": (("month",), 0.82 - 0.01 * SHAPE / 3.0),
        "pr_stc": (("month",), np.full(month, 0.85)),
        "pr_irradiation": (("month",), 14.0 * SHAPE),
        "hours": (("month", "tracker", "reason"), _hours(month, len(trackers))),
        "coverage": (("month", "tracker"), np.full((month, len(trackers)), 0.94)),
    }
    ratio = 1.0 + 0.02 * rng.standard_normal(dc.shape)
    ratio[3:8, -1] -= 0.09
    parts["dc_ratio"] = (("month", "tracker"), ratio)
    parts["dc_measured"] = (("month", "tracker"), dc * ratio)
    parts["dc_band"] = (("month", "tracker", "bound"), _band(dc.shape, 0.06))
    for name in ("pr", "pr_stc"):
        parts[f"{name}_expected"] = (("month",), np.full(month, 0.83))
        parts[f"{name}_band"] = (("month", "bound"), 0.83 * _band((month,), 0.06))
    if ac:
        energy = 0.97 * dc.sum(axis=1)[:, None] / len(inverters) * np.ones(len(inverters))
        shape = energy.shape
        parts["ac_expected"] = (("month", "inverter"), energy)
        own = 1.0 + 0.02 * rng.standard_normal(shape)
        parts["ac_ratio"] = (("month", "inverter"), own)
        parts["ac_measured"] = (("month", "inverter"), energy * own)
        parts["ac_band"] = (("month", "inverter", "bound"), _band(shape, 0.06))
    by_hour = np.where(lit[:, None], 1.0 + 0.015 * rng.standard_normal((24, len(trackers))), np.nan)
    by_hour[16:18, -1] = 0.83
    parts["hour_ratio"] = (("hour", "tracker"), by_hour)
    parts["hour_band"] = (("hour", "tracker", "bound"), _band(by_hour.shape, 0.06))
    each = np.repeat(by_hour[None], month, axis=0)
    each[[0, 1, 10, 11], 16:18, -1] = 1.0
    each[[0, 11], :8] = np.nan
    parts["month_hour_ratio"] = (("month", "hour", "tracker"), each)
    parts["month_hour_expected"] = (("month", "hour", "tracker"), np.nan_to_num(each) * 3.0)
    parts["year_ratio"] = (("tracker",), np.linspace(0.99, 0.93, len(trackers)))
    parts["year_band"] = (("tracker", "bound"), _band((len(trackers),), 0.05))
    pair = np.ones((len(trackers), len(trackers)))
    parts["between"] = (("tracker", "other"), pair)
    parts["between_band"] = (("tracker", "other", "bound"), _band(pair.shape, 0.02))
    where = {
        "month": MONTHS,
        "tracker": trackers,
        "other": trackers,
        "inverter": inverters,
        "hour": hour,
        "reason": list(REASONS),
        "bound": ["low", "high"],
    }
    return xr.Dataset(parts, where)


def _hours(months, trackers):
    found = np.zeros((months, trackers, len(REASONS)))
    for reason, hours in ((COUNTED, 340.0), (NIGHT, 370.0), (MISSING, 12.0), (CLIPPED, 8.3)):
        found[..., REASONS.index(reason)] = hours
    return found


def _band(shape, half):
    return np.stack([np.full(shape, 1.0 - half), np.full(shape, 1.0 + half)], axis=-1)
