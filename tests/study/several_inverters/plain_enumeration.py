"""Every wiring of two inverters one by one, and its energy by plain sums of tracker power.

Nothing of the search is used: sets are listed, the conversion is its formula, and what the meter
lets through is the least of the sum and the limit. Leads and network have no impedance here.
"""

from itertools import product
from typing import NamedTuple

import numpy as np

from yieldkit.physics.ac.many_wirings import LOSSES
from yieldkit.study.several_inverters.inverter_rows import SolvedKind
from yieldkit.study.several_inverters.shared_side import SharedSide, Wired


class OwnList(NamedTuple):
    """Every wiring of one inverter, the idle one included.

    Parameters
    ----------
    rows : ndarray of int
        What hangs on each input, -1 for nothing (wiring, input).
    usage : ndarray of int
        Modules of each plane (wiring, plane).
    """

    rows: np.ndarray
    usage: np.ndarray


class Enumerated(NamedTuple):
    """Every wiring of two inverters.

    Parameters
    ----------
    own : tuple of OwnList
        By inverter.
    chosen : ndarray of int
        Position of each inverter's wiring in its list (wiring, inverter).
    energy_kwh : ndarray
        (wiring,).
    """

    own: tuple[OwnList, OwnList]
    chosen: np.ndarray
    energy_kwh: np.ndarray

    def wired(self, place: int) -> Wired:
        """Return a wiring as the search names it."""
        rows = (own.rows[at] for own, at in zip(self.own, self.chosen[place], strict=True))
        return tuple(tuple(int(row) for row in each if row >= 0) for each in rows)

    def best(self, count: int) -> np.ndarray:
        """Return the highest energies [kWh]."""
        return np.sort(self.energy_kwh)[::-1][:count]


def own_list(own: SolvedKind, modules: np.ndarray) -> OwnList:
    """List what may hang on one inverter: on equal inputs each set once."""
    classes = np.array([place for place, _ in own.rows])
    idle = len(own.rows)
    usage = np.vstack([own.usage, np.zeros_like(modules)])
    amperes = np.append(own.short_circuit_a, 0.0)
    lists = np.empty((1, 0), dtype=int)
    slots = own.kind.slots
    for at, slot in enumerate(slots):
        choices = np.append(np.flatnonzero(classes == slot), idle)
        before, more = (each.ravel() for each in np.meshgrid(np.arange(len(lists)), choices))
        if at and slots[at - 1] == slot:
            rising = lists[before, -1] <= more
            before, more = before[rising], more[rising]
        lists = np.column_stack([lists[before], more])
        fits = (usage[lists].sum(axis=1) <= modules).all(axis=1)
        fits &= amperes[lists].sum(axis=1) <= own.short_circuit_left_a
        lists = lists[fits]
    return OwnList(np.where(lists == idle, -1, lists), usage[lists].sum(axis=1))


def net_power(side: SharedSide, place: int, rows: np.ndarray) -> np.ndarray:
    """Return AC power less own consumption [W] (wiring, lit step)."""
    own, limits = side.solved(place), side.limits
    power = np.append(own.arrangements.power, np.zeros((1, own.arrangements.power.shape[1])), 0)
    parts = np.append(own.arrangements.parts, np.zeros((1, *own.arrangements.parts.shape[1:])), 0)
    fixed = np.broadcast_to(own.fixed_rows, (len(rows), own.fixed_rows.size))
    every = np.hstack([np.where(rows >= 0, rows, len(power) - 1), fixed])
    convert = _by_losses if own.path.kind == LOSSES else _by_list
    ac = np.minimum(convert(own, power[every], parts[every]), limits.cap[:, place])
    idle = power[every].sum(axis=1) <= 0.0
    return ac - limits.auxiliary[place] - np.where(idle, limits.night[place], 0.0)


def _by_losses(own: SolvedKind, power: np.ndarray, parts: np.ndarray) -> np.ndarray:
    """Lose c0 + c1 x + c2 x^2 of nominal power at the load x, c averaged by the inputs' power."""
    dc, (c0, c1, c2) = power.sum(axis=1), np.moveaxis(parts.sum(axis=1), 1, 0)
    nominal = own.path.curve_nominal
    with np.errstate(invalid="ignore", divide="ignore"):
        linear, c2 = 1.0 + c1 / dc, c2 / dc
        left = dc / nominal - c0 / dc
        load = 2.0 * left / (linear + np.sqrt(linear**2 + 4.0 * c2 * left))
    found: np.ndarray = np.where((dc > 0.0) & (left > 0.0), load * nominal, 0.0)
    return found


def _by_list(own: SolvedKind, power: np.ndarray, parts: np.ndarray) -> np.ndarray:
    """Average the parabolas of the inputs' voltages by the inputs' power."""
    dc = power.sum(axis=1)
    a, b, c = np.moveaxis(parts, 2, 0)
    above = dc[:, None] - b
    with np.errstate(invalid="ignore", divide="ignore"):
        each = (own.path.paco / (a - b) - c * (a - b)) * above + c * above**2
        ac = np.where(power > 0.0, power * each, 0.0).sum(axis=1) / dc
    found: np.ndarray = np.where(dc >= max(own.path.least_dc, 1e-9), np.clip(ac, 0.0, dc), 0.0)
    return found


def _left_over(planes: int, at_most: int) -> list[np.ndarray]:
    """Return every number of modules of each plane that may stay unwired."""
    every = product(range(at_most + 1), repeat=planes)
    return [np.array(each) for each in every if sum(each) <= at_most]


def enumerated(
    side: SharedSide, modules: np.ndarray, leave_at_most: int = 0, limit_w: float = np.inf
) -> Enumerated:
    """Return every wiring of two inverters with its energy, equal inverters exchanged once."""
    equal = side.kind_of[0] == side.kind_of[1]
    lists = [own_list(side.solved(place), modules) for place in range(2)]
    keys = [_key(each.usage, modules) for each in lists]
    order = [np.argsort(each, kind="stable") for each in keys]
    starts = [np.unique(each, return_index=True) for each in (np.sort(each) for each in keys)]
    members = [
        dict(zip(found.tolist(), np.split(own, first[1:]), strict=True))
        for own, (found, first) in zip(order, starts, strict=True)
    ]
    hours = side.prepared.step_hours / 1000.0
    dark = (side.prepared.present.sum() - side.lit.size) * hours
    night = (side.limits.night + side.limits.auxiliary).sum()
    pairs, energies = [], []
    for rest in _left_over(modules.size, leave_at_most):
        if (rest > modules).any():
            continue
        whole = int(_key(modules - rest, modules))
        for key, ones in members[0].items():
            if whole - key not in members[1] or (equal and 2 * key > whole):
                continue
            others = members[1][whole - key]
            both = _pairs(ones, others, equal and 2 * key == whole)
            if not (modules - rest).any():
                continue
            powers = [
                net_power(side, place, lists[place].rows[each])
                for place, each in enumerate((ones, others))
            ]
            places = [np.searchsorted(each, both[:, at]) for at, each in enumerate((ones, others))]
            pairs.append(both)
            energies.append(_energies(*powers, *places, limit_w) * hours)
    return Enumerated(
        (lists[0], lists[1]), np.concatenate(pairs), np.concatenate(energies) - night * dark
    )


def _key(usage: np.ndarray, modules: np.ndarray) -> np.ndarray:
    """Return numbers of modules as one number; the sum of two does not carry."""
    found: np.ndarray = usage @ np.cumprod(np.append(1, 2 * modules[:-1] + 1))
    return found


def _pairs(ones: np.ndarray, others: np.ndarray, same: bool) -> np.ndarray:
    first, second = (each.ravel() for each in np.meshgrid(ones, others))
    found = np.column_stack([first, second])
    return found[first <= second] if same else found


def _energies(
    one: np.ndarray, other: np.ndarray, first: np.ndarray, second: np.ndarray, limit_w: float
) -> np.ndarray:
    if not np.isfinite(limit_w):
        both: np.ndarray = one.sum(axis=1)[first] + other.sum(axis=1)[second]
        return both
    found: np.ndarray = np.minimum(one[first] + other[second], limit_w).sum(axis=1)
    return found
