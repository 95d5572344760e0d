"""What weather values can be: bounds of every column and marks of missing values, with sources.

A bound refuses what no weather is, not what is rare: it is there for wrong units, wrong columns
and marks that stand for "missing".
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import Problem
from yieldkit.base.measured_planes import plain_quantity

_KELVIN = 273.15


class Bound(NamedTuple):
    """What the values of a column can be.

    Parameters
    ----------
    unit : str
        The column's unit.
    low, high : float
        Least and greatest value that weather can have.
    marks : tuple of float
        Values that stand for "missing" in this column, beside those of every column.
    source : str
        Where the bounds come from, and how they are known.
    """

    unit: str
    low: float
    high: float
    marks: tuple[float, ...]
    source: str


MARKS_OF_ALL = (-9999.0, -9900.0, -999.0, -99.9, -99.0)
"""Marks of missing values in every column: -9900 in TMY3 (read, NREL/TP-581-43156), -999 and -99.9
in BSRN's station-to-archive form (from memory), the others common practice, no source."""

_NIGHT_OFFSET_W_M2 = -25.0
"""A thermopile cools against the night sky; BSRN calls -4 W/m2 possible (Long and Dutton 2002, from
memory), loggers without correction go lower: common practice, no source."""

_MODULE_BOUND = Bound(
    "degC",
    -90.0,
    130.0,
    (999.0, 999.9, 9999.0, 99999.0),
    "air's least, and above what insulated modules reach in still air under a desert sun; common "
    "practice, no source",
)

BOUNDS = {
    "ghi": Bound(
        "W/m2",
        _NIGHT_OFFSET_W_M2,
        1600.0,
        (9999.0, 99999.0),
        "common practice, no source; BSRN calls more than 1.2 x 1,412 + 50 = 1,744 W/m2 extremely "
        "rare under an overhead sun (Long and Dutton 2002, from memory)",
    ),
    "dni": Bound(
        "W/m2",
        _NIGHT_OFFSET_W_M2,
        1420.0,
        (9999.0, 99999.0),
        "BSRN's physically possible limit, the sun's own irradiance outside the air: 1,361.1 W/m2 "
        "/ 0.9833^2 = 1,408 in January (Long and Dutton 2002, from memory; computed), rounded up",
    ),
    "dhi": Bound(
        "W/m2",
        _NIGHT_OFFSET_W_M2,
        1390.0,
        (9999.0, 99999.0),
        "BSRN's physically possible limit under an overhead sun, 0.95 x 1,412 + 50 W/m2 (Long and "
        "Dutton 2002, from memory; computed)",
    ),
    "temp_air": Bound(
        "degC",
        -90.0,
        60.0,
        (99.9, 999.0, 999.9, 9999.0, 99999.0),
        "WMO's archive of extremes: -89.2 degC (Vostok, 1983) and 56.7 degC (Furnace Creek, 1913), "
        "rounded outwards (from memory); 99.9 is EPW's mark of a missing value (from memory)",
    ),
    "wind_speed": Bound(
        "m/s",
        0.0,
        100.0,
        (99.9, 999.0, 999.9, 9999.0, 99999.0),
        "WMO's archive of extremes: a gust of 113.2 m/s (Barrow Island, 1996; from memory); means "
        "stay below",
    ),
    "pressure": Bound(
        "Pa",
        30_000.0,
        110_000.0,
        (9999.0, 999999.0),
        "WMO's archive of extremes: 1,084.8 hPa (Tosontsengel, 2001; from memory); 307 hPa is the "
        "standard atmosphere at 9,000 m (ISO 2533, computed)",
    ),
    "relative_humidity": Bound(
        "%",
        0.0,
        110.0,
        (999.0, 9999.0),
        "EPW's own span, 0 to 110 % (from memory): sensors read a little above saturation",
    ),
    "poa_global": Bound(
        "W/m2",
        -10.0,
        1600.0,
        (9999.0, 99999.0),
        "light on a plane: as global irradiance above, a sensor's offset at night below; common "
        "practice, no source",
    ),
    "temp_module": _MODULE_BOUND,
    "temp_cell": _MODULE_BOUND,
    "rain": Bound(
        "mm",
        0.0,
        400.0,
        (999.0, 999.9, 9999.0),
        "WMO's archive of extremes: 305 mm within 42 minutes (Holt, 1947; from memory), rounded up",
    ),
    "snowfall": Bound(
        "cm",
        0.0,
        100.0,
        (999.0, 999.9, 9999.0),
        "193 cm within 24 hours are the most that was measured (Silver Lake, 1921; from memory); "
        "half of it in a step, common practice, no source",
    ),
    "snow_depth": Bound(
        "cm",
        0.0,
        1200.0,
        (9999.0,),
        "1,182 cm are the most that was measured (Mount Ibuki, 1927; from memory), rounded up",
    ),
}
"""Bounds by column."""

_TEMPERATURES = ("temp_air", "temp_module", "temp_cell")

_HEAVIEST_M = 0.05
"""Rain of the heaviest step, in m; so little in mm washes nothing off (common practice, no
source)."""
_FEW_HOURS = 48

_SENSOR_CODES = (-127.0, 85.0)
"""What common digital thermometers give when they are not connected or just switched on (common
practice, no source)."""


def marks_of(column: str) -> tuple[float, ...]:
    """Return the values that stand for "missing" in a column."""
    quantity = plain_quantity(column)
    own = BOUNDS[quantity].marks if quantity in BOUNDS else ()
    return (*MARKS_OF_ALL, *own)


def bound_problems(values: pd.DataFrame, where: str) -> list[Problem]:
    """Return what is wrong with columns whose values no weather has.

    Parameters
    ----------
    values : DataFrame
        Columns by pvlib's names; missing values are nan.
    where : str
        File name, for the problems.
    """
    found = []
    for quantity, bound in BOUNDS.items():
        for name in values:
            if plain_quantity(str(name)) == quantity:
                found.extend(_column_problems(values[name], bound, f"{where}, {name}"))
    return found


def _column_problems(column: pd.Series, bound: Bound, where: str) -> list[Problem]:
    data = column.to_numpy()
    given = data[~np.isnan(data)]
    if given.size == 0:
        return []
    wrong_unit = _unit_problem(plain_quantity(str(column.name)), given, where)
    if wrong_unit is not None:
        return [wrong_unit]
    outside = (data < bound.low) | (data > bound.high)
    number = int(np.count_nonzero(outside))
    if number == 0:
        return []
    first = int(np.argmax(outside))
    worst = float(data[outside][np.argmax(np.abs(data[outside] - 0.5 * (bound.low + bound.high)))])
    alike = int(np.count_nonzero(data == worst))
    times = f"{number} rows" if number > 1 else "1 row"
    return [
        Problem(
            where,
            f"{worst:g} {bound.unit}, and {times} out of bounds, the first at {_at(column, first)}",
            _allowed(column.name, bound),
            cause=_cause(column.name, worst, alike, number),
            remedy="Leave the cells empty where nothing was measured, or mend the column.",
        )
    ]


def _at(column: pd.Series, row: int) -> str:
    moment = column.index[row]
    return f"{moment:%Y-%m-%d %H:%M} UTC" if isinstance(moment, pd.Timestamp) else f"row {row}"


def _allowed(name: object, bound: Bound) -> str:
    if bound.low == _NIGHT_OFFSET_W_M2:
        return (
            f"no less than {bound.low:g} W/m2 (a sensor's offset at night) and no more than "
            f"{bound.high:g} W/m2"
        )
    return f"{bound.unit}, from {bound.low:g} to {bound.high:g}"


def _cause(name: object, worst: float, alike: int, number: int) -> str:
    if not np.isfinite(worst) or abs(worst) > 1e6:
        return "A number that overflowed?"
    if name == "temp_air" and worst in _SENSOR_CODES:
        return "The code of a thermometer that isn't connected?"
    if name == "temp_air" and worst > 0.0 and alike < number:
        return "Is the column in degrees Fahrenheit?"
    if alike > 1 or worst < 0.0:
        return "A mark for missing values, or a wrong column?"
    return "A wrong unit, or a wrong column?"


def _unit_problem(name: object, given: FloatArray, where: str) -> Problem | None:
    """Return the problem of a column that is sound in another unit."""
    top, middle = float(given.max()), float(np.median(given))
    if name in ("ghi", "poa_global") and 0.0 < top < 5.0:
        return Problem(
            where,
            f"a maximum of {top:g}",
            "W/m2",
            cause="Is the column in kW/m2 or kWh/m2?",
            remedy="Multiply it by 1000.",
        )
    if name in _TEMPERATURES and 150.0 < middle < 350.0:
        return Problem(
            where,
            f"{middle:.0f} in the middle",
            "degC",
            cause="Is the column in kelvin?",
            remedy=f"Subtract {_KELVIN}.",
        )
    if name == "rain" and given.size >= _FEW_HOURS and 0.0 < top < _HEAVIEST_M:
        return Problem(
            where,
            f"a maximum of {top:g}",
            "mm in each step",
            cause="Is the column in m?",
            remedy="Multiply it by 1000; where it hardly ever rains, leave it out.",
        )
    units = {"hPa (millibar)": (300.0, 1100.0, 100), "kPa": (30.0, 110.0, 1000)}
    for unit, (low, high, factor) in units.items():
        if name == "pressure" and low <= middle <= high:
            return Problem(
                where,
                f"{middle:g} in the middle",
                "Pa",
                cause=f"Is the column in {unit}?",
                remedy=f"Multiply it by {factor}.",
            )
    if name == "relative_humidity" and given.size >= 24 and 0.0 < top <= 1.0:
        return Problem(
            where,
            f"a maximum of {top:g}",
            "%",
            cause="Is the column a share of one?",
            remedy="Multiply it by 100.",
        )
    return None
