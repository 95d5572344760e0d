"""An estimate put into one Dataset with units and long names."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.study.estimate.bands import EXCEEDANCE, exceeded, means_of_years, months_of
from yieldkit.study.estimate.contributions import Contributions
from yieldkit.study.estimate.drawing import Drawing
from yieldkit.study.estimate.plant import Plant
from yieldkit.study.estimate.unknowns import Unsure
from yieldkit.study.estimate.way import Way
from yieldkit.study.simulation.period import MONTHS
from yieldkit.study.simulation.provenance import provenance

_IN_TEN = (0.1, 0.9)


class Found(NamedTuple):
    """All that an estimate found.

    Parameters
    ----------
    drawing : Drawing
        What was drawn.
    plant : Plant
        What whole runs told.
    first : ndarray
        Months of the first year under several weathers [kWh] (draw, pick, month).
    life : ndarray
        Energy of each year of life under several weathers [kWh] (draw, pick, year).
    contributions : Contributions
        What unknowns add to the spread.
    way : Way
        From nominal to likely.
    nominal : ndarray
        Months of the nominal year [kWh] (month,).
    seed : int
        Of the draws.
    """

    drawing: Drawing
    plant: Plant
    first: FloatArray
    life: FloatArray
    contributions: Contributions
    way: Way
    nominal: FloatArray
    seed: int


def as_dataset(found: Found, sentences: tuple[str, ...]) -> xr.Dataset:
    """Return an estimate as a Dataset.

    Parameters
    ----------
    found : Found
        The estimate.
    sentences : tuple of str
        On what it rests.
    """
    drawing, first = found.drawing, found.first.reshape(-1, len(MONTHS))
    life = found.life.reshape(-1, found.life.shape[2])
    years, means = means_of_years(life)
    bands = exceeded(means)
    kwh: dict[str, tuple[tuple[str, ...], FloatArray, str]] = {
        "first_year": (
            ("draw", "pick"),
            found.life[:, :, 0],
            "energy of the first year under several weathers",
        ),
        "first_year_months": (
            ("draw", "pick", "month"),
            found.first,
            "energy of the first year by month",
        ),
        "mean_energy": (
            ("draw", "pick", "mean_years"),
            means.reshape(*found.life.shape[:2], len(years)),
            "mean energy of the first years",
        ),
        "bands": (("mean_years", "exceedance"), bands, "energy a year that is exceeded"),
        "year_bands": (
            ("plant_year", "exceedance"),
            exceeded(life),
            "energy of each year of life that is exceeded",
        ),
        "months_of_year": (
            ("exceedance", "month"),
            months_of(first, bands[0]),
            "months of first years whose sum is exceeded",
        ),
        "month_bands": (
            ("month", "bound"),
            np.quantile(first, _IN_TEN, axis=0).T,
            "energy between which each month alone lies in eight of ten years",
        ),
        "nominal_months": (("month",), found.nominal, "months of the nominal year"),
        "way": (("way_step",), found.way.energy, "step from the nominal to the likely year"),
    }
    variables: dict[str, Any] = {
        name: (*own[:2], _attrs("kWh", own[2])) for name, own in kwh.items()
    }
    variables |= _causes(found)
    coords = {
        "month": list(MONTHS),
        "mean_years": list(years),
        "plant_year": np.arange(1, life.shape[1] + 1),
        "exceedance": list(EXCEEDANCE),
        "bound": ["low", "high"],
        "cause": list(found.contributions.causes),
        "way_step": list(found.way.steps),
        "column": list(drawing.unsure.names),
    }
    return xr.Dataset(variables, coords, _attributes(found, sentences))


def _causes(found: Found) -> dict[str, tuple[tuple[str, ...], Any, dict[str, str]]]:
    """Return what was drawn, and what each unknown adds to the spread."""
    doubts, shares = found.drawing.unsure, found.contributions
    spreads = [_spread(doubts, name) for name in shares.causes]
    plain: dict[str, tuple[tuple[str, ...], Any, str]] = {
        "numbers": (("draw", "column"), found.drawing.numbers, "drawn numbers, by their spread"),
        "first_order": (("cause",), shares.first_order, "share of the variance by itself"),
        "total_order": (("cause",), shares.total, "share of the variance with all others"),
        "cause_spread": (("cause",), [each[0] for each in spreads], "how widely it is drawn"),
        "cause_source": (("cause",), [each[1] for each in spreads], "where that comes from"),
    }
    saved = _attrs("kWh", "way from likely to cautious that knowing it saves")
    return {
        **{name: (*own[:2], _attrs("1", own[2])) for name, own in plain.items()},
        "saved": (("cause",), shares.saved, saved),
    }


def _attrs(units: str, meaning: str) -> dict[str, str]:
    return {"units": units, "long_name": meaning}


def _spread(doubts: Unsure, cause: str) -> tuple[str, str]:
    """Return how widely an unknown is drawn, and where that comes from."""
    own = doubts.columns[doubts.of_cause(cause)[0]]
    return own.unknown.range(), own.unknown.source


def _attributes(found: Found, sentences: tuple[str, ...]) -> dict[str, str | int | float]:
    prepared, spread = found.drawing.subject.prepared, found.drawing.weather.spread
    site = prepared.site
    drawn = np.array([plane.modules for plane in site.planes])
    aged = found.plant.aged
    return {
        "site": site.site.name,
        "wiring": found.drawing.subject.wiring.name,
        "kwp": float(prepared.module_power @ drawn) / 1000.0,
        "nominal_kwh": float(found.nominal.sum()),
        "draws": len(found.drawing.numbers),
        "seed": found.seed,
        "whole_runs": found.plant.runs,
        "residual_percent": found.plant.residual_percent,
        "residual_of_age_percent": 0.0 if aged is None else aged.residual_percent,
        "ages_run": json.dumps([0.0, *(() if aged is None else aged.ages)]),
        "year_to_year": spread.kind,
        "year_to_year_percent": spread.percent,
        "year_to_year_source": spread.source,
        "sentences": json.dumps(list(sentences)),
        **prepared.period.attributes(),
        **provenance(site, prepared.weather),
    }
