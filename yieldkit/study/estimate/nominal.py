"""The nominal year beside an estimate: loss steps, yields, and what the wiring may be called."""

from __future__ import annotations

import json

import numpy as np
import xarray as xr

from yieldkit.base.progress import silent
from yieldkit.design.checks.permission import permission
from yieldkit.study.estimate.choice import Choice
from yieldkit.study.estimate.yields import yields_of
from yieldkit.study.simulation.module_shadows import plain_shadows, shadows_of
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.simulate import simulate_wirings

YIELDS = {
    "Y_r": ("reference", "h", "reference yield: hours of reference light in the planes"),
    "Y_A": ("array", "h", "array yield: energy of the array by its rated power"),
    "Y_f": ("final", "h", "final yield: delivered energy by the array's rated power"),
    "L_C": ("capture_loss", "h", "array capture loss, Y_r - Y_A"),
    "L_BOS": ("system_loss", "h", "balance-of-system loss, Y_A - Y_f"),
    "PR": ("ratio", "1", "performance ratio, Y_f / Y_r"),
    "PR'_STC": ("corrected_ratio", "1", "performance ratio with the array's power at its heat"),
}
"""Symbols of IEC 61724-1: the field that holds each, its unit and its meaning."""
MINUTES = ("even_light_kwh", "all_or_nothing_kwh")
"""The nominal year under even light in every step, and under the sun or none at all [kWh]."""


def with_nominal(data: xr.Dataset, prepared: Prepared, choice: Choice) -> xr.Dataset:
    """Return an estimate's Dataset with what belongs to the nominal year.

    Parameters
    ----------
    data : Dataset
        The estimate.
    prepared : Prepared
        The site on its weather.
    choice : Choice
        The wiring.

    Returns
    -------
    Dataset
        With the loss budget (loss_step), the yields of IEC 61724-1 (symbol) and what shadows take
        from each module (JSON), and attributes that say how the wiring was chosen, what it may be
        called, what is NOT CHECKED, on what the simulation rests, and between what the year lies
        by the minutes within the weather's steps, where these are drawn.
    """
    _, (result,) = simulate_wirings(prepared, (choice.wiring,), silent)
    found = yields_of(prepared.site, result)
    numbers = np.array([getattr(found, field) for field, _, _ in YIELDS.values()])
    allowed = permission(choice.findings)
    attrs = {
        "chosen": choice.sentence,
        "permission": allowed.word,
        "permission_sentence": allowed.sentence(),
        "not_checked": choice.findings.unchecked(),
        "assumptions": json.dumps(list(prepared.assumptions)),
        "weather_remarks": " ".join(prepared.remarks),
        "left_out": result.attrs["left_out"],
        "invented": int(prepared.site.invented),
        "nameplate_kwh": float(result["potential"][0]),
        **{key: result.attrs[key] for key in MINUTES if key in result.attrs},
    }
    shadows = plain_shadows(shadows_of(prepared, (choice.wiring,)))
    variables = {
        "loss_budget": (
            "loss_step",
            result["loss_budget"].to_numpy(),
            {"units": "kWh", "long_name": "loss of the nominal year in each step"},
        ),
        "yields": (
            "symbol",
            numbers,
            {"units": "h", "long_name": "yields of the nominal year (IEC 61724-1); ratios are 1"},
        ),
        "shadows": (
            (),
            json.dumps(shadows),
            {"units": "1", "long_name": "what shadows take from each module, as JSON"},
        ),
    }
    coords = {"loss_step": list(result["loss_step"].to_numpy()), "symbol": list(YIELDS)}
    return data.assign(variables).assign_coords(coords).assign_attrs({**data.attrs, **attrs})
