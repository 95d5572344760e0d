"""What each direction of a batch alone does, and two of them together."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.batch.combined import WIRING


class Side(NamedTuple):
    """One direction of a batch, as its table has it.

    Parameters
    ----------
    name : str
        The axis, the group of axes, or "wiring".
    values : tuple of str
        What each of its values is, in words.
    numbers : ndarray or None
        The values, where they are numbers; None for words.
    at : ndarray of int
        Which value each run has (run,).
    usual : int
        The value of the reference.
    """

    name: str
    values: tuple[str, ...]
    numbers: FloatArray | None
    at: IntArray
    usual: int


class Effect(NamedTuple):
    """What one direction alone does, all others held at the reference.

    Parameters
    ----------
    name : str
        The direction.
    values : tuple of str
        Its values in words.
    numbers : ndarray or None
        Its values, where they are numbers.
    energy_kwh : dict
        Energy of each value by wiring [kWh]; nan where there is no such run.
    lowest, highest : ndarray
        Among all runs of each value [kWh].
    usual : int
        The value of the reference.
    reference_kwh : float
        Energy of the reference [kWh].
    """

    name: str
    values: tuple[str, ...]
    numbers: FloatArray | None
    energy_kwh: Mapping[str, FloatArray]
    lowest: FloatArray
    highest: FloatArray
    usual: int
    reference_kwh: float

    def own(self, wiring: str) -> FloatArray:
        """Return the energies that its values give with the reference's wiring [kWh]."""
        return self.energy_kwh[wiring]


class Grid(NamedTuple):
    """Energy over two directions, all others held at the reference.

    Parameters
    ----------
    across, up : str
        The directions.
    across_values, up_values : tuple of str
        Their values in words.
    energy_kwh : ndarray
        (up, across) [kWh]; nan where there is no such run.
    """

    across: str
    up: str
    across_values: tuple[str, ...]
    up_values: tuple[str, ...]
    energy_kwh: FloatArray


def side_of(frame: pd.DataFrame, name: str, columns: Sequence[str], sound: BoolArray) -> Side:
    """Return a direction: its values in order, those of one that are numbers rising."""
    first = frame[columns[0]]
    numeric = pd.api.types.is_numeric_dtype(first) and not pd.api.types.is_bool_dtype(first)
    codes, _ = pd.factorize(first, sort=bool(numeric))
    places = [int(np.argmax(codes == code)) for code in range(codes.max() + 1)]
    words = tuple(
        " / ".join(_word(frame[column].iloc[place]) for column in columns) for place in places
    )
    numbers = first.to_numpy(dtype=float)[places] if numeric and len(columns) == 1 else None
    name = f"{name} ({' / '.join(columns)})" if len(columns) > 1 else name
    return Side(name, words, numbers, codes.astype(np.int64), _usual(frame, codes, sound))


def _usual(frame: pd.DataFrame, codes: IntArray, sound: BoolArray) -> int:
    """Return the value that changes least of the site, else the middle one."""
    number = int(codes.max()) + 1
    changed = frame["changes"].fillna("[]").map(lambda text: len(json.loads(text))).to_numpy()
    fewest = np.full(number, np.inf)
    np.minimum.at(fewest, codes[sound], changed[sound].astype(float))
    least = np.flatnonzero(fewest == fewest.min())
    return int(least[0]) if least.size == 1 else (number - 1) // 2


def reference_run(sides: Sequence[Side], sound: BoolArray) -> int:
    """Return the run that agrees with the usual values in most directions."""
    agreeing = np.sum([side.at == side.usual for side in sides], axis=0)
    return int(np.argmax(np.where(sound, agreeing, -1)))


def effect_of(
    side: Side, sides: Sequence[Side], wiring: Side, energy: FloatArray, reference: float
) -> Effect:
    """Return what a direction alone does.

    Parameters
    ----------
    side : Side
        The direction.
    sides : sequence of Side
        All of them.
    wiring : Side
        That of the wirings, each of which has its own line.
    energy : ndarray
        Of every run [kWh]; nan where there is none (run,).
    reference : float
        Of the reference [kWh].
    """
    others = np.ones(energy.size, dtype=bool)
    for other in sides:
        if other is not side and other is not wiring:
            others &= other.at == other.usual
    lines = {}
    for number, name in enumerate(wiring.values):
        if side is wiring and number != wiring.usual:
            continue
        chosen = others if side is wiring else others & (wiring.at == number)
        line = np.full(len(side.values), np.nan)
        line[side.at[chosen]] = energy[chosen]
        lines[name] = line
    known = np.isfinite(energy)
    lowest, highest = (np.full(len(side.values), fill) for fill in (np.inf, -np.inf))
    np.minimum.at(lowest, side.at[known], energy[known])
    np.maximum.at(highest, side.at[known], energy[known])
    lowest[np.isinf(lowest)] = highest[np.isinf(highest)] = np.nan
    return Effect(
        side.name, side.values, side.numbers, lines, lowest, highest, side.usual, reference
    )


def span(effect: Effect, wiring: str) -> float:
    """Return between which energies a direction leads with a wiring: the difference [kWh]."""
    line = effect.own(wiring)
    known = line[np.isfinite(line)]
    return float(known.max() - known.min()) if known.size else 0.0


def grid_of(effects: Sequence[Effect], sides: Sequence[Side], energy: FloatArray) -> Grid | None:
    """Return the energy over the two directions that do most, wirings aside."""
    names = [effect.name for effect in effects if effect.name != WIRING][:2]
    if len(names) < 2:
        return None
    across, up = (next(side for side in sides if side.name == name) for name in names)
    chosen = np.ones(energy.size, dtype=bool)
    for side in sides:
        if side is not across and side is not up:
            chosen &= side.at == side.usual
    laid = np.full((len(up.values), len(across.values)), np.nan)
    laid[up.at[chosen], across.at[chosen]] = energy[chosen]
    return Grid(across.name, up.name, across.values, up.values, laid)


def _word(value: object) -> str:
    if isinstance(value, bool | np.bool_):
        return "true" if value else "false"
    return f"{value:.6g}" if isinstance(value, float | np.floating) else str(value)
