"""Steps that a weather file lacks: filled by a narrow rule and counted, or left missing."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.base.measured_planes import POA, measured_part, plain_quantity

LIGHT = ("ghi", "dni", "dhi")
NEEDED = (*LIGHT, "temp_air", "wind_speed")
"""What every step must have; a step that lacks one of them lacks all."""
FALLEN = ("rain", "snowfall", "snow_depth")
"""What falls in single steps: never filled from the steps beside."""
MOST_FILLED_H = 3.0
"""Longest gap that may be filled [h]; common practice, no source."""
_LONGEST_GAP = pd.Timedelta(days=366)


def needed_in(names: Iterable[Hashable]) -> list[str]:
    """Return which columns every step must have: those of `NEEDED`, and all measured on planes."""
    return [str(name) for name in names if str(name) in NEEDED or measured_part(str(name))]


class Filled(NamedTuple):
    """A table after its gaps were looked at.

    Parameters
    ----------
    values : DataFrame
        With short gaps filled; what is still missing is missing in all of `NEEDED`.
    filled : ndarray of bool
        Steps at which anything was filled (time,).
    counts : dict
        `missing_steps`, `filled_steps` and `longest_gap_h`, for the quality account.
    """

    values: pd.DataFrame
    filled: BoolArray
    counts: dict[str, object]


def refuse_wide_filling(hours: float) -> None:
    """Refuse to fill gaps so long that the weather in them would be invented.

    Parameters
    ----------
    hours : float
        Longest gap to fill [h].

    Raises
    ------
    InputError
        Above `MOST_FILLED_H`.
    """
    if hours > MOST_FILLED_H:
        refuse(
            "weather.fill_gaps_up_to_h",
            f"{hours:g}",
            f"no more than {MOST_FILLED_H:g}: nobody knows the light of longer gaps",
            remedy="Leave longer gaps as they are: their steps stay missing, and every total is "
            "of the time that is covered.",
        )


def refuse_far_times(index: pd.DatetimeIndex, where: str) -> None:
    """Refuse times so far apart that one of them must be wrong.

    Parameters
    ----------
    index : DatetimeIndex
        Rising times.
    where : str
        File name, for errors.

    Raises
    ------
    InputError
        For more than a year without any row.
    """
    apart = np.diff(index.as_unit("ns").asi8)
    widest = int(np.argmax(apart))
    if apart[widest] > _LONGEST_GAP.value:
        refuse(
            where,
            f"no row for {pd.Timedelta(apart[widest]).days:,} days after "
            f"{index[widest]:%Y-%m-%d %H:%M} UTC",
            "no more than a year without a row",
            cause="A wrong year in one of the rows?",
            remedy="Correct its time, or cut the file in two.",
        )


def fill_gaps(
    values: pd.DataFrame,
    interval_s: float,
    fill_h: float,
    daylit: Callable[[pd.DatetimeIndex], BoolArray],
    where: str,
) -> Filled:
    """Fill short gaps, and let every step that still lacks something lack everything.

    Light is filled only where the sun is up in the whole gap and on both sides of it;
    temperature, wind and the rest anywhere between two values, rain and snow never. All are
    interpolated in time.

    Parameters
    ----------
    values : DataFrame
        On a uniform raster, nan where a value is missing.
    interval_s : float
        Length of a step [s].
    fill_h : float
        Longest gap that is filled [h], at most `MOST_FILLED_H`.
    daylit : callable
        Tells from the steps' times whether the sun is up (time,).
    where : str
        File name, for errors.

    Raises
    ------
    InputError
        If not one step has everything.
    """
    needed = needed_in(values)
    missing = values[needed].isna().any(axis=1).to_numpy()
    if not missing.any():
        return Filled(values, np.zeros(missing.size, dtype=bool), _counts(0, 0, 0.0))
    longest = float(_lengths(missing).max()) * interval_s / 3600.0
    whole = values.copy()
    if fill_h > 0.0:
        lit = daylit(pd.DatetimeIndex(values.index))
        for name in values:
            if name in FALLEN:
                continue
            gaps = values[name].isna().to_numpy()
            may = _short(gaps, fill_h * 3600.0 / interval_s)
            if plain_quantity(str(name)) in (*LIGHT, POA):
                may &= _between(gaps, lit)
            bridged = values[name].interpolate(limit_area="inside")
            whole[name] = values[name].where(~may, bridged)
    lacking = whole[needed].isna().any(axis=1).to_numpy()
    if lacking.all():
        refuse(
            where,
            f"{lacking.size} steps, and in each of them something missing",
            "steps with light, temperature and wind",
            remedy="Look at the columns in a text editor: is one of them empty?",
        )
    whole.loc[lacking, needed] = np.nan
    filled = missing & ~lacking
    return Filled(whole, filled, _counts(int(lacking.sum()), int(filled.sum()), longest))


def _counts(missing: int, filled: int, longest_h: float) -> dict[str, object]:
    return {"missing_steps": missing, "filled_steps": filled, "longest_gap_h": round(longest_h, 4)}


def _runs(flags: BoolArray) -> tuple[IntArray, IntArray]:
    """Return where runs of true flags begin and where they have ended."""
    edges = np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)


def _lengths(flags: BoolArray) -> IntArray:
    begin, end = _runs(flags)
    return end - begin


def _short(gaps: BoolArray, most_steps: float) -> BoolArray:
    """Return the steps of gaps that are short enough and have a value on either side."""
    found = np.zeros(gaps.size, dtype=bool)
    for begin, end in zip(*_runs(gaps), strict=True):
        inside = begin > 0 and end < gaps.size
        found[begin:end] = inside and end - begin <= most_steps * (1.0 + 1e-9)
    return found


def _between(gaps: BoolArray, lit: BoolArray) -> BoolArray:
    """Return the steps of gaps that are daylit from the step before to the step after."""
    found = np.zeros(gaps.size, dtype=bool)
    for begin, end in zip(*_runs(gaps), strict=True):
        found[begin:end] = lit[max(begin - 1, 0) : end + 1].all()
    return found
