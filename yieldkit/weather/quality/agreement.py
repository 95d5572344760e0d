"""Whether global, diffuse and direct irradiance belong together, and what is told of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray
from yieldkit.base.errors import InputError, Problem

_LIT_W_M2 = 50.0
_DIFFUSE_TO_GLOBAL = 1.25
"""Diffuse is at most 1.05 of global, 1.10 with the sun lower than 15 degrees, where global exceeds
50 W/m2: BSRN's comparison test (Long and Dutton 2002, from memory); the rest is room for a sensor
of global irradiance that reads a tenth low."""
_MOST_ABOVE_SHARE = 0.05
"""Share of lit steps with diffuse above global from which a file is refused: common practice, no
source; files that were looked at have at most 0.015."""
_BRIGHT_DNI = 150.0
_FEWEST_BRIGHT = 20
_NOTEWORTHY_GAIN = 0.03
"""Deviation of global from diffuse plus direct that is told: the better classes of ISO 9060 stay
below it (from memory)."""
_GAIN_BELIEVED = (0.8, 1.25)
"""Beyond these the columns don't belong together: common practice, no source."""


def refuse_contradictory_irradiance(
    dataset: xr.Dataset, report: Mapping[str, Any], where: str
) -> None:
    """Refuse irradiances that can't be of one sky.

    Parameters
    ----------
    dataset : Dataset
        Canonical weather with global, direct and diffuse.
    report : mapping
        The clock check's figures, and `decomposition`.
    where : str
        File name, for errors.

    Raises
    ------
    InputError
        If diffuse exceeds global in many lit steps, or global is far from diffuse plus direct.
    """
    if report["decomposition"] not in ("", "direct from global and diffuse"):
        return
    ghi, dhi = dataset["ghi"].to_numpy(), dataset["dhi"].to_numpy()
    lit = ghi > _LIT_W_M2
    above = lit & (dhi > _DIFFUSE_TO_GLOBAL * ghi)
    number, of = int(above.sum()), int(lit.sum())
    if number > max(_MOST_ABOVE_SHARE * of, 1.0):
        raise InputError(
            (
                Problem(
                    f"{where}, dhi",
                    f"diffuse above global irradiance in {number:,} of {of:,} lit steps",
                    "diffuse at most as large as global",
                    cause=_cause_of_diffuse(dataset, above),
                    remedy=_WITHOUT,
                ),
            )
        )
    _refuse_dark(dataset, lit, where)
    twin = _same_column(dataset) if report["decomposition"] == "" else ""
    if twin:
        raise InputError(
            (
                Problem(
                    f"{where}, {twin}",
                    f"the values of ghi once more in {twin}",
                    "a column of its own",
                    cause=f"Is {twin} read from the column of global irradiance?",
                    remedy=_WITHOUT,
                ),
            )
        )
    gain = report.get("closure_gain", 1.0)
    if report["clock"] in ("zone", "hemisphere") or _GAIN_BELIEVED[0] <= gain <= _GAIN_BELIEVED[1]:
        return
    raise InputError(
        (
            Problem(
                f"{where}, ghi, dni, dhi",
                f"global irradiance {gain:.2f} times what diffuse and direct make of it",
                f"global = diffuse + direct x cos(zenith), within {_GAIN_BELIEVED[0]:g} to "
                f"{_GAIN_BELIEVED[1]:g}",
                cause="A wrong column, a wrong unit, or direct irradiance on the horizontal?",
                remedy=_WITHOUT,
            ),
        )
    )


def _refuse_dark(dataset: xr.Dataset, lit: BoolArray, where: str) -> None:
    """Refuse direct and diffuse that are zero wherever there is global irradiance."""
    parts = (dataset["dni"].to_numpy()[lit], dataset["dhi"].to_numpy()[lit])
    if lit.sum() < _FEWEST_BRIGHT or any(np.nan_to_num(part).any() for part in parts):
        return
    raise InputError(
        (
            Problem(
                f"{where}, dni, dhi",
                f"zero in all of {int(lit.sum()):,} lit steps",
                "direct and diffuse irradiance where there is global",
                remedy=_WITHOUT,
            ),
        )
    )


_WITHOUT = (
    "Correct weather.columns; or leave dni and dhi out, so that they are modelled from global"
)


def _cause_of_diffuse(dataset: xr.Dataset, above: BoolArray) -> str:
    dni, dhi = (dataset[name].to_numpy()[above] for name in ("dni", "dhi"))
    if np.mean(dni < dhi) > 0.9:
        return "Are the columns of dni and dhi swapped?"
    return "A wrong column, or a wrong unit?"


def _same_column(dataset: xr.Dataset) -> str:
    """Return which of diffuse and direct is global irradiance once more, if one is."""
    ghi, dni, dhi = (dataset[name].to_numpy() for name in ("ghi", "dni", "dhi"))
    bright = (ghi > _LIT_W_M2) & (dni > _BRIGHT_DNI)
    if np.count_nonzero(bright) < _FEWEST_BRIGHT:
        return ""
    for name, values in (("dhi", dhi), ("dni", dni)):
        if np.allclose(values[bright], ghi[bright], rtol=1e-3, atol=0.5):
            return name
    return ""


def agreement_cautions(report: Mapping[str, Any]) -> list[str]:
    """Return what a person must know of a weather file's clock and irradiances, in sentences.

    Parameters
    ----------
    report : mapping
        The quality account with the clock check's figures.
    """
    found = []
    if report["clock"] != "agrees":
        text, advice = report["clock_text"], report["clock_remedy"]
        lead = "Clock of the weather file"
        turn = "An error of the clock moves yield between east and west. To mend it write into "
        found.append(
            f"{lead}: {text}. {turn}the weather block {advice}."
            if report["clock"] in ("offset", "zone")
            else f"{lead}: {text}; {advice}."
        )
    gain = report.get("closure_gain", 1.0)
    if abs(gain - 1.0) > _NOTEWORTHY_GAIN:
        more = "more" if gain > 1.0 else "less"
        found.append(
            f"Global irradiance in the weather file is {100.0 * abs(gain - 1.0):.1f} % {more} than "
            "diffuse and direct make of it (a sensor's gain?): yields are uncertain by as much."
        )
    if report.get("marks"):
        found.append(f"Marks of missing values in the weather file: {report['marks']}.")
    return found
