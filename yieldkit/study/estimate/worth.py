"""An estimate's Dataset with what the building uses itself, and with money where prices stand."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.study.estimate.booking import has_load
from yieldkit.study.estimate.drawing import Drawing
from yieldkit.study.estimate.house import House, booked_year, house_of
from yieldkit.study.estimate.money import (
    Terms,
    cash_flows,
    discounted,
    grown,
    internal_rates,
    levelised_cost,
    net_present_value,
    payback,
    sales,
    savings,
)
from yieldkit.study.estimate.offer import assumption_rows, offer_attributes, terms_of
from yieldkit.study.estimate.plant import Plant
from yieldkit.study.simulation.self_use import why_upper_bound

_YEARS = ("draw", "pick", "plant_year")
_DRAWS = ("draw", "pick")


def with_worth(
    data: xr.Dataset,
    drawing: Drawing,
    plant: Plant,
    hidden: FloatArray,
    each_year: list[FloatArray],
) -> xr.Dataset:
    """Return an estimate's Dataset with the building's side, and money where prices are stated.

    Parameters
    ----------
    data : Dataset
        The estimate.
    drawing : Drawing
        What is drawn.
    plant : Plant
        The plant.
    hidden : ndarray
        What steps hide of each month's energy [1] (month,).
    each_year : list of ndarray
        Months of each year of life [kWh] (draw, pick, month).

    Returns
    -------
    Dataset
        As it was for a site without load and without offer.
    """
    site, booking = drawing.subject.site, drawing.booking
    said: dict[str, Any] = {**offer_attributes(site)}
    if booking is None:
        return data.assign_attrs(said)
    house = house_of(drawing, plant, booking, hidden)
    booked = [
        booked_year(drawing, plant, house, months, year)
        for year, months in enumerate(each_year, start=1)
    ]
    used = np.stack([own.self_use for own in booked], axis=2)
    fed = np.stack([own.export for own in booked], axis=2)
    data = data.assign(
        {
            "self_use": _variable(_YEARS, used.sum(axis=3), "kWh", "energy the building uses"),
            "export": _variable(_YEARS, fed.sum(axis=3), "kWh", "energy fed into the network"),
        }
    )
    said |= {
        "sentences": json.dumps([*json.loads(data.attrs.get("sentences", "[]")), *_told(house)]),
        "load_kwh": float(house.load.sum()),
        "own_consumption_kwh": float(house.taken.sum()),
        "has_load": int(has_load(site)),
        "self_use_upper_bound": why_upper_bound(drawing.subject.prepared) if used.any() else "",
        "self_use_residual_percent": house.residual_percent,
    }
    terms = terms_of(site)
    if terms is None or site.offer is None:
        return data.assign_attrs(said)
    said |= {
        "currency": str(site.offer.currency),
        "price_assumptions": json.dumps(assumption_rows(site)),
        "discount_percent": 100.0 * terms.rate,
        "inflation_percent": 100.0 * terms.inflation,
        "taxed": int(terms.tax > 0.0),
    }
    energy = np.stack([months.sum(axis=2) for months in each_year], axis=2)
    return _with_money(data, terms, house, (used, fed, energy), said)


def _told(house: House) -> tuple[str, ...]:
    """Return on what self-use rests; nothing where there is no load."""
    if not house.load.any():
        return ()
    return (
        "Self-use doesn't scale with energy: for each draw it follows from the base case's power, "
        "scaled month by month, over the load of the same steps, and from the whole runs, to "
        f"{house.residual_percent:.2f} % (root mean square of self-use and export, each run "
        "foretold by the others). The load stays as it is through the plant's life.",
    )


def _variable(
    dims: tuple[str, ...], values: FloatArray, units: str, meaning: str
) -> tuple[tuple[str, ...], FloatArray, dict[str, str]]:
    return dims, values, {"units": units, "long_name": meaning}


def _with_money(
    data: xr.Dataset,
    terms: Terms,
    house: House,
    energies: tuple[FloatArray, FloatArray, FloatArray],
    said: dict[str, Any],
) -> xr.Dataset:
    """Return the Dataset with cash flows of every draw, and the figures that follow from them."""
    used, fed, energy = energies
    code = said["currency"]
    flows = cash_flows(terms, savings(terms, used, house.taken), sales(terms, fed))
    returns = internal_rates(flows)
    real = (1.0 + returns.rate) / (1.0 + terms.inflation) - 1.0
    cost = terms.feed_in < 0.0
    curtailed = -(fed[..., cost] @ terms.feed_in[cost])
    saved = curtailed * grown(terms.feed_in_growth, terms.years)
    worth = saved @ (1.0 + terms.rate) ** -np.arange(1.0, terms.years + 1.0)
    now = discounted(flows, terms.rate)
    figures = {
        "net_present_value": (net_present_value(flows, terms.rate), code, "net present value"),
        "internal_rate": (100.0 * real, "%", "internal rate of return, as the discount is stated"),
        "levelised_cost": (
            levelised_cost(terms, energy),
            f"{code}/kWh",
            "levelised cost of energy, before tax",
        ),
        "payback_years": (payback(flows), "year", "simple payback; inf where not within life"),
        "discounted_payback_years": (
            payback(now),
            "year",
            "discounted payback; inf where not within life",
        ),
        "curtailing_first_year": (
            saved[..., 0],
            code,
            "what feeding in nothing at negative prices saves in the first year",
        ),
        "curtailing_worth": (worth, code, "the same over the plant's life, discounted"),
    }
    variables: dict[str, Any] = {name: _variable(_DRAWS, *own) for name, own in figures.items()}
    cash = ("draw", "pick", "cash_year")
    variables["cash_flow"] = _variable(cash, flows, code, "cash flow at the end of each year")
    said["several_rates_percent"] = 100.0 * float((returns.roots > 1).mean())
    said["negative_feed_in"] = int(cost.any())
    years = np.arange(terms.years + 1)
    return data.assign(variables).assign_coords(cash_year=years).assign_attrs(said)
