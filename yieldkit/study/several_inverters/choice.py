"""Which inverters to choose: every choice out of a site's kinds, each with its best wiring."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement
from math import comb
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.errors import refuse
from yieldkit.base.progress import Progress, silent
from yieldkit.config.models.installed import InstalledInverter
from yieldkit.config.models.inverters import Inverter
from yieldkit.config.site.display import refuse_other_than_site
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.conversion import conversion_curve
from yieldkit.design.permitted.arrangements import input_classes
from yieldkit.design.permitted.constraints import Constraints, refuse_contradictions
from yieldkit.design.roof.scene import without_obstacles
from yieldkit.study.several_inverters.inverter_rows import InverterKind, SolvedKind, solved_kinds
from yieldkit.study.several_inverters.search import search
from yieldkit.study.several_inverters.shared_side import shared_side
from yieldkit.study.several_inverters.solved_wirings import ROOM, Wanted, each_wiring, every_wiring
from yieldkit.study.several_inverters.space import fewest_left, space_of
from yieldkit.study.simulation.labels import wiring_text
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.unsolved import without_steps
from yieldkit.study.simulation.weather import site_weather
from yieldkit.study.wiring_energies.energies import lit_steps

MOST_CHOICES = 250
"""Most choices that are looked at."""


@dataclass(frozen=True)
class Choice:
    """Choices of inverters with their best wirings, best first.

    Parameters
    ----------
    site : Site
        The site that they were chosen for, as if nothing stood in its modules' light.
    table : DataFrame
        One row a choice: inverters, energy and what no wiring of them exceeds [kWh], DC power by
        nominal AC power [1], energy clipped by the inverters and limited at the meter [kWh], unused
        inputs, modules that stay unwired at least, price, wiring. Energies are missing where the
        modules don't fit.
    per : str
        What the energies are per, such as "a year".
    currency : str
        Of the prices; empty where none is known.
    """

    site: Site
    table: pd.DataFrame
    per: str
    currency: str


class _Type(NamedTuple):
    """A kind of inverter, solved on the site."""

    inverter: Inverter
    solved: SolvedKind


def choose(
    site: Site,
    most: int,
    constraints: Constraints | None = None,
    weather: xr.Dataset | None = None,
    progress: Progress | None = None,
) -> Choice:
    """Find the best wiring of every choice of up to so many of a site's kinds of inverters.

    Parameters
    ----------
    site : Site
        The site; its kinds of inverters are chosen from, whatever is installed. Each chosen one
        gets place, own lead and reactive power of the first that is installed.
    most : int
        Most inverters of a choice.
    constraints : Constraints, optional
        What is asked of the wirings; nothing that goes by inputs.
    weather : Dataset, optional
        Canonical weather; read from the site's own source if left out.
    progress : callable, optional
        Told how many choices are done; a true answer ends the work, and those done are kept.

    Raises
    ------
    InputError
        For fewer than one inverter, or more choices than are looked at; for wishes by input, kinds
        of other phases or voltage, a kind that no string length fits, prices of two currencies.
    """
    refuse_other_than_site(site, Site)
    asked, tell = constraints or Constraints(), progress or silent
    kinds = site.inverter_types or (site.single_inverter,)
    _refuse_number(len(kinds), most)
    if asked.keep_free or asked.fixed:
        refuse(
            "constraints",
            "inputs kept free or laid already, where the inverters are still to be chosen",
            "none that go by inputs",
            remedy="Leave --keep-free and --laid out.",
        )
    refuse_contradictions(site, asked)
    currency = _currency(kinds)
    _refuse_unlike(kinds)
    prepared = prepare(without_obstacles(site), site_weather(site) if weather is None else weather)
    prepared, types = _solved_types(prepared, kinds, asked, tell)
    every = [
        chosen
        for number in range(1, most + 1)
        for chosen in combinations_with_replacement(range(len(kinds)), number)
    ]
    rows = []
    for done, chosen in enumerate(every, start=1):
        rows.append(_row(prepared, [types[each] for each in chosen], asked))
        if tell("choices of inverters", done, len(every)):
            break
    table = pd.DataFrame(rows).sort_values("energy_kwh", ascending=False, kind="stable")
    return Choice(prepared.site, table.reset_index(drop=True), prepared.period.per, currency)


def _refuse_number(kinds: int, most: int) -> None:
    number = comb(kinds + most, most) - 1 if most >= 1 else 0
    if most < 1:
        refuse("inverters to choose", f"{most}", "at least 1")
    if number > MOST_CHOICES:
        refuse(
            "inverters to choose",
            f"up to {most} of {kinds} kinds, {number:,} choices",
            f"at most {MOST_CHOICES} choices",
            remedy="Choose fewer, or take kinds out of the file.",
        )


def _currency(kinds: Sequence[Inverter]) -> str:
    found = sorted({each.price.currency for each in kinds if each.price is not None})
    if len(found) > 1:
        refuse(
            "inverter_types",
            f"prices in {' and '.join(found)}",
            "prices in one currency",
            remedy="Convert them.",
        )
    return found[0] if found else ""


def _refuse_unlike(kinds: Sequence[Inverter]) -> None:
    first = kinds[0].ac
    for each in kinds:
        own = each.ac
        if (own.phases, own.nominal_voltage_v) != (first.phases, first.nominal_voltage_v):
            refuse(
                f"inverter_types.{each.name}",
                f"{own.phases} x {own.nominal_voltage_v:g} V",
                f"{first.phases} x {first.nominal_voltage_v:g} V, as '{kinds[0].name}' has",
                remedy="Choose among kinds of the same connection.",
            )


def _installed(site: Site, kinds: Sequence[Inverter]) -> Site:
    """Return a site with these inverters, each where the first one hangs; nothing checked anew."""
    first = site.inverters[0] if site.inverters else None
    place = site.inverter_place if first is None else first.place
    total, seen = Counter(each.name for each in kinds), Counter[str]()
    installed = []
    for each in kinds:
        seen[each.name] += 1
        name = f"{each.name} {seen[each.name]}" if total[each.name] > 1 else each.name
        installed.append(
            InstalledInverter(
                name=name,
                type=each.name,
                place=None if place is None else place.model_copy(update={"wall": None}),
                lead=None if first is None else first.lead,
                reactive=None if first is None else first.reactive,
            )
        )
    return site.model_copy(
        update={
            "schema_version": 2,
            "inverter": None,
            "inverter_place": None,
            "inverter_types": tuple({each.name: each for each in kinds}.values()),
            "inverters": tuple(installed),
        }
    )


def _solved_types(
    prepared: Prepared, kinds: Sequence[Inverter], asked: Constraints, tell: Progress
) -> tuple[Prepared, list[_Type]]:
    """Return the site without steps that have no solution, and every kind solved on it."""
    site = prepared.site
    every = _installed(site, kinds)
    there = _with_inverters(prepared, every, kinds)
    found = []
    for one in every.each_inverter():
        alone = one.site.model_copy(update={"wirings": site.wirings})
        classes = input_classes(alone, asked, tell)
        kind = InverterKind((one.name,), alone, classes, ())
        _refuse_nothing_fits(kind)
        found.append(kind)
    lit = lit_steps(there)
    solved = solved_kinds(there, found, np.arange(len(found)), asked, lit, tell)
    unsolved = np.any([own.unsolved for own in solved], axis=0)
    if unsolved.any():
        lacking = np.zeros(prepared.present.shape, dtype=bool)
        lacking[lit[unsolved]] = True
        return _solved_types(without_steps(prepared, lacking), kinds, asked, tell)
    return prepared, [_Type(each, own) for each, own in zip(kinds, solved, strict=True)]


def _with_inverters(prepared: Prepared, site: Site, kinds: Sequence[Inverter]) -> Prepared:
    return replace(prepared, site=site, conversions=tuple(conversion_curve(each) for each in kinds))


def _refuse_nothing_fits(kind: InverterKind) -> None:
    """Refuse a kind on whose inputs nothing may hang, with the reason."""
    if any(own.arrangements for own in kind.classes):
        return
    lengths = {
        f"{fewest} to {most} of {plane}"
        for own in kind.classes
        for plane, (fewest, most) in own.lengths.items()
    }
    dropped = Counter[str]()
    for own in kind.classes:
        dropped.update(own.dropped)
    reason = (
        dropped.most_common(1)[0][0]
        if dropped
        else ("start-up voltage and cold open-circuit voltage leave " + ", ".join(sorted(lengths)))
    )
    refuse(
        f"inverter_types.{kind.names[0]}",
        "a kind on whose inputs no string of these planes may hang",
        "kinds that fit a string",
        cause=f"{reason[0].upper()}{reason[1:]}.",
        remedy="Take it out of the file, or widen what is asked of the strings.",
    )


def _row(prepared: Prepared, chosen: Sequence[_Type], asked: Constraints) -> dict[str, object]:
    """Return what a choice of inverters yields at best."""
    kinds = [each.inverter for each in chosen]
    site = _installed(prepared.site, kinds)
    there = _with_inverters(prepared, site, kinds)
    names = [one.name for one in site.each_inverter()]
    solved, kind_of = [], np.zeros(len(chosen), dtype=np.int64)
    for number, name in enumerate(dict.fromkeys(each.name for each in kinds)):
        places = [place for place, each in enumerate(kinds) if each.name == name]
        kind_of[places] = number
        own = chosen[places[0]].solved
        own_names = tuple(names[place] for place in places)
        solved.append(own._replace(kind=replace(own.kind, names=own_names)))
    side = shared_side(there, tuple(solved), kind_of, lit_steps(there))
    space = space_of(side, [plane.modules for plane in site.planes], asked.leave_at_most)
    kwp = sum(
        plane.modules * power for plane, power in zip(site.planes, there.module_power, strict=True)
    )
    prices = [each.price.amount for each in kinds if each.price is not None]
    row: dict[str, object] = {
        "inverters": _listed(kinds),
        "energy_kwh": np.nan,
        "bound_kwh": np.nan,
        "dc_ac_ratio": kwp / sum(each.ac.nominal_power_w for each in kinds),
        "clipped_kwh": np.nan,
        "limited_kwh": np.nan,
        "unused_inputs": np.nan,
        "left_at_least": fewest_left(space),
        "price": sum(prices) if len(prices) == len(kinds) else np.nan,
        "wiring": "",
    }
    if fewest_left(space) > asked.leave_at_most:
        return row
    found = search(space, Wanted(1, each_wiring, every_wiring, ROOM), silent)
    if not found.best:
        return row
    wired, best = found.best[0]
    inputs = sum(len(each.mppts) for each in kinds)
    return row | {
        "energy_kwh": best.energy_kwh,
        "bound_kwh": max(found.bound_kwh, best.energy_kwh),
        "clipped_kwh": max(best.held_back_kwh - best.limited_kwh, 0.0),
        "limited_kwh": best.limited_kwh,
        "unused_inputs": inputs - sum(len(rows) for rows in wired),
        "wiring": wiring_text(side.wiring(wired, "best")),
    }


def _listed(kinds: Sequence[Inverter]) -> str:
    counted = Counter(each.name for each in kinds)
    return " + ".join(name if n == 1 else f"{n} x {name}" for name, n in counted.items())
