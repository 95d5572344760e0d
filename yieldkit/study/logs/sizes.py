"""How large a plant's readings can be, and what is said of readings that no such plant gives."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.base.errors import InputError, Problem
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.limits import site_facts

_MOST = {"v_dc": 1.5, "i_dc": 3.2, "p_dc": 3.2, "p_ac": 2.0, "v_ac": 1.6}
"""Readings above so many times the largest of the plant are none of this plant: more than strings
wrongly wired in parallel make, which have to be read to be found."""
_OFFSET = 0.01
"""Share of the plant's size by which a sensor at rest may read below zero."""
_NIGHT_AC = 0.05
"""Share of its rating that an inverter may draw from the network."""
_FEW = 0.01
_THOUSAND, _THOUSANDTH = 20.0, 0.0015
_UNIT = {"v_dc": "V", "i_dc": "A", "p_dc": "W", "p_ac": "W", "v_ac": "V"}
_REMEDY = {
    "v_ac": "Divide them by 1.732.",
    "p_dc": "Write units: {p_dc: W}, and W into the table's head",
    "p_ac": "Write units: {p_ac: W}, and W into the table's head",
}
_FEWEST_MOVES, _MOST_FALLS = 6, 0.02


class Sizes(NamedTuple):
    """What the largest input, and each inverter, gives at standard test conditions.

    Parameters
    ----------
    v_dc, i_dc, p_dc : float
        Of the largest input in use [V, A, W].
    v_dc_most : float
        Highest voltage that an inverter's input bears [V].
    p_ac : mapping of str to float
        Rating of each inverter [W].
    v_ac : float
        Nominal voltage, phase to neutral [V].
    """

    v_dc: float
    i_dc: float
    p_dc: float
    v_dc_most: float
    p_ac: Mapping[str, float]
    v_ac: float

    def of(self, quantity: str, name: str) -> float:
        """Return the size of a quantity of an input or inverter."""
        if quantity == "p_ac":
            return self.p_ac[name]
        found: float = getattr(self, quantity)
        return found

    def most(self, quantity: str, name: str) -> float:
        """Return above what a reading of an input or inverter can't be."""
        most = _MOST[quantity] * self.of(quantity, name)
        return max(most, self.v_dc_most) if quantity == "v_dc" else most


def sizes_of(site: Site, wiring: Wiring) -> Sizes:
    """Return how large readings of a wiring can be.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring that was built.
    """
    facts = site_facts(site)
    types = {plane.name: plane.module_type for plane in site.planes}
    volts, amperes, watts = [], [], []
    for tracker in wiring.trackers:
        strings = [
            [(group.modules, facts[types[group.plane]]) for group in string.groups]
            for string in tracker.strings
        ]
        volts.append(max(sum(n * own.v_oc for n, own in string) for string in strings))
        amperes.append(sum(max(own.i_sc for _, own in string) for string in strings))
        watts.append(sum(n * own.p_max for string in strings for n, own in string))
    rated = {}
    for one in site.each_inverter():
        side = one.site.single_inverter.ac
        rated[one.name] = max(side.nominal_power_w, side.max_power_w or 0.0)
    borne = max(mppt.max_voltage_v for mppt in site.inputs().values())
    return Sizes(max(volts), max(amperes), max(watts), borne, rated, site.nominal_voltage_v)


def impossible(
    quantity: str, name: str, values: FloatArray, sizes: Sizes, where: str
) -> tuple[BoolArray, list[Problem]]:
    """Return which readings can't be, and what is wrong where too many of them can't.

    Parameters
    ----------
    quantity : str
        "v_dc", "i_dc", "p_dc", "p_ac" or "v_ac".
    name : str
        Input or inverter.
    values : ndarray
        Readings [V, A, W], nan where nothing was written (time,).
    sizes : Sizes
        How large they can be.
    where : str
        Tables, for the problems.
    """
    size = sizes.of(quantity, name)
    given = np.isfinite(values)
    over = given & (values > sizes.most(quantity, name))
    low = _NIGHT_AC if quantity == "p_ac" else _OFFSET
    under = given & (values < -low * size)
    moved = given & (np.abs(values) > _OFFSET * size)
    few = _FEW * max(int(moved.sum()), 1)
    spot, unit = f"{where}, {quantity} of {name}", _UNIT[quantity]
    problems = []
    if over.sum() > max(few, 5):
        worst = float(np.median(values[over]))
        kilo = unit == "W" and worst > _THOUSAND * size
        problems.append(
            Problem(
                spot,
                f"{worst:,.6g} {unit} in the middle of {int(over.sum()):,} readings",
                f"no more than about {size:,.4g} {unit} (standard test conditions)",
                cause=_why_large(quantity, kilo),
                remedy=_REMEDY.get(quantity if kilo or quantity == "v_ac" else "", ""),
            )
        )
    if under.sum() > 0.5 * max(int(moved.sum()), 1):
        worst = float(np.median(values[under]))
        problems.append(
            Problem(
                spot,
                f"{worst:,.6g} {unit} in the middle of {int(under.sum()):,} readings below zero",
                "readings above zero where the plant gives power",
                cause="A sign turned round, or the column of another meter?",
            )
        )
    return over | under, problems


def _why_large(quantity: str, kilo: bool) -> str:
    if quantity == "v_ac":
        return "Voltages between phases?"
    if kilo:
        return "Are they W, called kW?"
    return "Readings of another wiring or site, or a decimal sign lost?"


def refuse_wrong_scale(tops: Mapping[tuple[str, str], float], sizes: Sizes, where: str) -> None:
    """Refuse powers that are in kW where W are read, and logs in which nothing ever moves.

    Parameters
    ----------
    tops : mapping of (str, str) to float
        Quantity with input or inverter, to its largest reading [V, A, W].
    sizes : Sizes
        How large they can be.
    where : str
        Tables, for the problem.

    Raises
    ------
    InputError
        With all such problems.
    """
    moving = [top for (quantity, _), top in tops.items() if quantity in ("i_dc", "p_dc", "p_ac")]
    if moving and not any(top > 0.0 for top in moving):
        raise InputError(
            [
                Problem(
                    where,
                    "no current and no power above zero in any step",
                    "readings of days on which the plant ran",
                    cause="The wrong columns, or a plant that was switched off?",
                )
            ]
        )
    found = []
    for quantity in ("p_dc", "p_ac"):
        own = {name: top for (kind, name), top in tops.items() if kind == quantity and top > 0.0}
        size = max((sizes.of(quantity, name) for name in own), default=0.0)
        if own and max(own.values()) < _THOUSANDTH * size:
            found.append(
                Problem(
                    f"{where}, {quantity}",
                    f"no more than {max(own.values()):.4g} W",
                    f"about {size:,.4g} W on a bright day",
                    cause="Are they kW?",
                    remedy=f"Write units: {{{quantity}: kW}} into the log's description",
                )
            )
    if found:
        raise InputError(found)


def counter_problems(
    powers: Mapping[tuple[str, str], FloatArray],
    time: pd.DatetimeIndex,
    longitude: float,
    where: str,
) -> Iterator[Problem]:
    """Give the powers that are energy counters: they never fall in an afternoon.

    Parameters
    ----------
    powers : mapping of (str, str) to ndarray
        Quantity with input or inverter, to its readings (time,).
    time : DatetimeIndex
        Naive UTC, starts of the steps.
    longitude : float
        Of the site [deg].
    where : str
        Tables, for the problems.
    """
    sun_hour = (time + pd.Timedelta(hours=longitude / 15.0)).hour.to_numpy()
    afternoon = (sun_hour >= 13) & (sun_hour < 23)
    both = afternoon[1:] & afternoon[:-1]
    for (quantity, name), values in powers.items():
        moves = np.diff(values)[both & (values[1:] > 0.0)]
        rises, falls = int((moves > 0.0).sum()), int((moves < 0.0).sum())
        if rises < _FEWEST_MOVES or falls > _MOST_FALLS * (rises + falls):
            continue
        counter = quantity.replace("p_", "e_")
        yield Problem(
            f"{where}, {quantity} of {name}",
            f"values that grow {rises} times in afternoons and fall "
            + ("never" if falls == 0 else f"{falls} times"),
            "a power, which falls towards the evening",
            cause="An energy counter that adds up?",
            remedy=f"Write {counter} in place of {quantity}, with its unit",
        )
