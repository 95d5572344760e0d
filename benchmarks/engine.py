"""The circuit engine against the composition on grids that anybody would write with pvlib."""

import math

import numpy as np
from pvlib.singlediode import _lambertw_i_from_v as current_on_grid
from pvlib.singlediode import _lambertw_v_from_i as voltage_on_grid

import yieldkit
from benchmarks.timing import best_of, best_of_pair
from yieldkit.physics.circuit.api import CellConditions, Run, StringCircuit, operating_point
from yieldkit.physics.compiled import compiled
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.weather import site_weather

GRID = 200
MODULES = 12
GROUPS = 3
HALF_CUT_MODULES = 14
MINUTE_STEPS = 277_000


def lit_conditions() -> CellConditions:
    """Return the cell groups of the demonstration site's planes in the hours with light."""
    site = yieldkit.load_site()
    conditions = prepare(site, site_weather(site)).conditions
    lit = (conditions.photocurrent > 0.0).all(axis=1)
    return CellConditions(*(np.ascontiguousarray(part[lit]) for part in conditions))


def columns(conditions: CellConditions, chosen: list[int]) -> CellConditions:
    """Return some of the conditions."""
    return CellConditions(*(np.ascontiguousarray(part[:, chosen]) for part in conditions))


def as_module(conditions: CellConditions, column: int) -> list[np.ndarray]:
    """Return a module's five parameters as columns over time, from its group's."""
    il, i0, rs, rsh, a = (part[:, column, None] for part in conditions)
    return [il, i0, GROUPS * rs, GROUPS * rsh, GROUPS * a]


def grid_in_parallel(conditions: CellConditions) -> np.ndarray:
    """Two equal strings in parallel: currents on a grid of voltages, summed and maximised."""
    first, second = as_module(conditions, 0), as_module(conditions, 1)
    highest = np.maximum(*(each[4] * np.log1p(each[0] / each[1]) for each in (first, second)))
    volts = np.linspace(0.0, 1.0, GRID) * highest
    total = sum(current_on_grid(volts, *each) for each in (first, second))
    return MODULES * (volts * total).max(axis=1)


def grid_in_series(conditions: CellConditions) -> np.ndarray:
    """Mixed string: voltages on a grid of currents, bypassed groups at the diode's drop."""
    each = [as_module(conditions, column) for column in range(conditions.photocurrent.shape[1])]
    top = np.max([parts[0] for parts in each], axis=0)
    current = np.linspace(0.0, 1.0, GRID) * top
    total = np.zeros_like(current)
    for parts in each:
        with np.errstate(invalid="ignore"):
            volts = voltage_on_grid(current, *parts)
        total += np.where(current < parts[0], np.nan_to_num(volts), -0.45 * GROUPS)
    return MODULES / len(each) * 2 * (current * total).max(axis=1)


def shaded_halves(lit: CellConditions) -> tuple[CellConditions, StringCircuit]:
    """Return 14 half-cut modules of which every half-group has its own light, and their string."""
    pairs = HALF_CUT_MODULES * GROUPS
    share = np.random.default_rng(4).uniform(0.2, 1.0, 2 * pairs)
    il, i0, rs, rsh, a = (np.repeat(part[:, :1], 2 * pairs, axis=1) for part in lit)
    string = string_of(*(Run(2 * pair, 1, 2 * pair + 1) for pair in range(pairs)))
    return CellConditions(il * share, i0, rs, rsh / share, a), string


@compiled
def exponentials(values: np.ndarray) -> float:
    """Sum of exponentials, one after the other: the unit a diode equation is paid in."""
    total = 0.0
    for value in values:
        total += math.exp(value)
    return total


def string_of(*runs: Run) -> StringCircuit:
    """Return a string without cable."""
    return StringCircuit(runs)


def minute_year(lit: CellConditions) -> list[CellConditions]:
    """Return a year of lit one-minute steps for three trackers, filled up between the hours."""
    hours = lit.photocurrent.shape[0]
    at = np.linspace(0.0, hours - 1.0, MINUTE_STEPS)
    place = np.arange(hours)
    return [
        CellConditions(*(np.interp(at, place, part[:, plane])[:, None] for part in lit))
        for plane in range(3)
    ]


def run() -> dict[str, float]:
    """Return the speeds of the engine on the lit hours of the demonstration site's weather."""
    lit = lit_conditions()
    hours = lit.photocurrent.shape[0]
    two = columns(lit, [0, 1])
    parallel = (string_of(Run(0, MODULES * GROUPS)), string_of(Run(1, MODULES * GROUPS)))
    half = MODULES * GROUPS
    mixed = (string_of(Run(0, half), Run(1, half)),)
    levels = CellConditions(*(np.repeat(lit[k][:, :1], 8, axis=1) for k in range(5)))
    share = np.linspace(0.3, 1.0, 8)
    levels = levels._replace(photocurrent=levels.photocurrent * share)
    eight = (string_of(*(Run(k, GROUPS) for k in range(8))),)
    found = {
        "tracker_year_s": best_of(lambda: operating_point(two, parallel), 40),
        "tracker_year_grid_s": best_of(lambda: grid_in_parallel(two), 5),
        "mixed_string_year_s": best_of(lambda: operating_point(two, mixed), 40),
        "mixed_string_grid_s": best_of(lambda: grid_in_series(two), 5),
        "eight_levels_year_s": best_of(lambda: operating_point(levels, eight), 15),
        "eight_levels_grid_s": best_of(lambda: grid_in_series(levels), 3),
    }
    halves, half_cut = shaded_halves(lit)
    found["half_cut_shaded_year_s"] = best_of(lambda: operating_point(halves, (half_cut,)), 3)
    found["tracker_year_speedup"] = found["tracker_year_grid_s"] / found["tracker_year_s"]
    found["mixed_string_speedup"] = found["mixed_string_grid_s"] / found["mixed_string_year_s"]
    found["eight_levels_speedup"] = found["eight_levels_grid_s"] / found["eight_levels_year_s"]
    found["string_hour_s"] = found["tracker_year_s"] / (2 * hours)
    exponents = np.linspace(1.0, 30.0, 100_000)
    found["one_exponential_s"] = best_of(lambda: exponentials(exponents)) / exponents.size
    found.update(minutes(lit))
    found.update(scaling(lit))
    return found


def minutes(lit: CellConditions) -> dict[str, float]:
    """Return the time of a year of minutes for three trackers, and what the second core gives."""
    trackers = minute_year(lit)
    single = (string_of(Run(0, MODULES * GROUPS)),)

    def year(workers: int) -> None:
        for conditions in trackers:
            operating_point(conditions, single, workers=workers)

    both = CellConditions(*(np.concatenate(parts, axis=1) for parts in zip(*trackers, strict=True)))
    mixed = (string_of(Run(0, 18), Run(1, 18)),)
    one, two = best_of_pair(
        lambda: operating_point(both, mixed), lambda: operating_point(both, mixed, workers=2), 8
    )
    return {
        "minute_year_three_trackers_s": best_of(lambda: year(1), 3),
        "minute_year_mixed_string_s": one,
        "two_core_speedup": one / two,
    }


def scaling(lit: CellConditions) -> dict[str, float]:
    """Return the times of a 64-module string with 1 to 64 different lights, for 300 hours."""
    found = {}
    some = CellConditions(*(part[::15][:300, :1] for part in lit))
    for number in (1, 4, 16, 64):
        parts = [np.repeat(part, number, axis=1) for part in some]
        parts[0] = parts[0] * np.linspace(0.5, 1.0, number)
        conditions = CellConditions(*parts)
        string = string_of(*(Run(k, 64 // number * GROUPS) for k in range(number)))
        found[f"string_of_64_modules_in_{number:02d}_lights_s"] = best_of(
            lambda c=conditions, s=string: operating_point(c, (s,)), 3
        )
    return found
