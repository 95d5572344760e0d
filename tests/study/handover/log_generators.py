"""Invented plants and a clear day's log of each: the judge has to find the truth.

Operating points come from pvlib's curves (`pvlib_inputs.py`). Only light below a cloudless sky, its
passage through glass and the modules' diode are shared with the judge. Fixed before the judge was
written.
"""

from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from tests.study.handover.generators import (
    GAUSS,
    GENERATORS,
    MISREADING,
    OTHER_HEAT,
    TAILS_ON_READINGS,
    TAILS_ON_UNKNOWNS,
)
from tests.study.handover.pvlib_inputs import group_curves, input_points, running
from yieldkit.base.measured_planes import MODULE, POA, measured_name
from yieldkit.physics.module.temperature import mounting_model
from yieldkit.study.handover import slips as handover_slips
from yieldkit.study.handover.names import named_strings
from yieldkit.study.handover.slips import Slip, all_slips, drawn_wiring, priors
from yieldkit.study.logs.plant_log import CLIPPED, NIGHT, REASONS, PlantLog
from yieldkit.study.simulation.plane_sky import cloudless, plane_sky

__all__ = ["GAUSS", "GENERATORS", "logged_plants"]

SPREADS = {
    "meters_v": 0.005,
    "meters_a": 0.015,
    "meter_v": 0.002,
    "meter_a": 0.007,
    "modules_v": 0.01,
    "modules_a": 0.015,
    "sensor_light": 0.03,
    "plane_light": 0.015,
    "haze_drift": 0.02,
    "plane_drift": 0.012,
    "sensor_drift": 0.007,
    "row_v": 0.003,
    "row_a": 0.006,
}
"""Standard deviations: gains that all inputs share and each one's own, slow drifts, single rows."""
SENSOR_HEAT_K, PLANE_HEAT_K, HEAT_DRIFT_K, CLOCK_MIN = 3.0, 2.0, 1.2, 2.0
LIGHT_ON_ALL, LIGHT_ON_ONE, NO_LIGHT = "all", "one", "none"
INTERVAL_S = 600
_DAYS = ("2026-03-25", "2026-05-02", "2026-06-21", "2026-08-14", "2026-09-20")


class LoggedPlant(NamedTuple):
    """An invented plant: the site, the truth among the slips, and a day's log.

    `truth` is the position among the slips (those of readings in doubt come after all others), or
    None where two slips were made at once. `gross` tells whether rows of it were spoilt.
    """

    site: object
    wiring: object
    names: tuple
    slips: tuple
    truth: int | None
    log: PlantLog
    sensors: str
    gross: bool


class Weather(NamedTuple):
    """Light and heat of a day: what is and what is measured, each (step, plane)."""

    light: np.ndarray
    cells: np.ndarray
    sensed: np.ndarray
    felt: np.ndarray


def logged_plants(sites, generator, number, seed):
    """Give invented plants of one generator."""
    rng = np.random.default_rng([40 + GENERATORS.index(generator), seed])
    for at in range(number):
        yield logged_plant(*sites[at % len(sites)], generator, rng)


def logged_plant(site, wiring, generator, rng, slip=None, sensors=None, day=None):
    """Return one invented plant, its truth drawn from the prior unless it is given by its words."""
    names = tuple(each.name for each in named_strings(site, wiring))
    drawn = drawn_wiring(site, wiring, names)
    if sensors is None:
        sensors = str(rng.choice([LIGHT_ON_ALL, LIGHT_ON_ONE, NO_LIGHT], p=[0.4, 0.3, 0.3]))
    slips = all_slips(drawn, [], sensors != NO_LIGHT)
    truth, own = _truth(slips, rng, slip)
    log = _log(site, wiring, own, sensors, generator, rng, day)
    gross = generator == MISREADING
    return LoggedPlant(site, wiring, names, slips, truth, log, sensors, gross)


def _truth(slips, rng, words):
    if words is not None:
        truth = next(at for at, own in enumerate(slips) if own.words == words)
        return truth, slips[truth]
    weights = priors(slips)
    none = np.array([own.kind == handover_slips.NONE_OF_THESE for own in slips])
    if rng.random() < weights[none].sum():
        one, other = rng.choice(
            [at for at, own in enumerate(slips) if "module" in own.kind], 2, replace=False
        )
        both = slips[one].groups + slips[other].groups - slips[0].groups
        return None, slips[one]._replace(groups=np.maximum(both, 1.0))
    truth = int(rng.choice(len(slips), p=np.where(none, 0.0, weights) / weights[~none].sum()))
    return truth, slips[truth]


def _log(site, wiring, slip: Slip, sensors, generator, rng, day):
    times = pd.date_range(pd.Timestamp(day or rng.choice(_DAYS)), periods=144, freq="10min")
    times = times - pd.Timedelta(seconds=site.site.utc_offset_s)
    unknown = _draws(generator == TAILS_ON_UNKNOWNS, rng)
    late = slip.clock_min + CLOCK_MIN * unknown()
    moments = (times + pd.Timedelta(seconds=INTERVAL_S / 2 - 60.0 * late)).tz_localize("UTC")
    around = _weather(site, slip, moments, sensors, generator, unknown, rng)
    volts, amperes = _inputs(site, wiring, slip, around)
    row = _draws(generator == TAILS_ON_READINGS, rng)
    gains = np.exp(
        [
            [SPREADS[f"meters_{one}"] * unknown() + SPREADS[f"modules_{one}"] * unknown()]
            for one in "va"
        ]
    )
    for at, (values, one) in enumerate(((volts, "v"), (amperes, "a"))):
        own = np.exp([SPREADS[f"meter_{one}"] * unknown() for _ in range(values.shape[1])])
        values *= gains[at] * own * (1.0 + SPREADS[f"row_{one}"] * _rows(values.shape, row))
    weather = _measured(site, times, sensors, around)
    if generator == MISREADING:
        _gross(volts, amperes, weather, rng)
    return _written(site, wiring, times, volts, amperes, weather)


def _draws(tails, rng):
    """Return a function that draws numbers of unit variance."""
    if tails:
        return lambda: float(rng.standard_t(3) / np.sqrt(3.0))
    return lambda: float(rng.standard_normal())


def _rows(shape, draw):
    """Return errors of rows of unit variance, each half like the one before it."""
    found = np.empty(shape)
    for column in range(shape[1]):
        last = draw()
        for step in range(shape[0]):
            last = 0.5 * last + np.sqrt(0.75) * draw()
            found[step, column] = last
    return found


def _slow(steps, unknown, rng):
    """Return a slow wave through the day of unit variance (step,)."""
    along = np.arange(steps) / steps
    waves = [
        unknown() * np.sin(2.0 * np.pi * (often * along + rng.random())) for often in (1.0, 2.3)
    ]
    return np.asarray(sum(waves))


def _weather(site, slip, moments, sensors, generator, unknown, rng):
    steps, planes = len(moments), len(site.planes)
    haze = rng.uniform(0.88, 1.02) * np.exp(SPREADS["haze_drift"] * _slow(steps, unknown, rng))
    lit = cloudless(site, moments)
    glass, light = np.zeros((steps, planes)), np.zeros((steps, planes))
    for place, plane in enumerate(site.planes):
        lies = site.planes[slip.drawn_as[place]]
        turned = plane.model_copy(
            update={
                "azimuth_deg": (lies.azimuth_deg + slip.turned[place][0]) % 360.0,
                "tilt_deg": float(np.clip(lies.tilt_deg + slip.turned[place][1], 0.0, 90.0)),
            }
        )
        sky = plane_sky(site, turned, lit)
        own = np.exp(SPREADS["plane_drift"] * _slow(steps, unknown, rng))
        own = own * np.exp(SPREADS["plane_light"] * unknown())
        glass[:, place] = haze * sky.poa_global * own
        light[:, place] = glass[:, place] * sky.passed * slip.light[place]
    afternoon = np.clip(np.cos(2.0 * np.pi * (np.arange(steps) / steps - 15.0 / 24.0)), -1.0, 1.0)
    air = rng.uniform(9.0, 27.0) + rng.uniform(2.0, 5.0) * afternoon
    rise = 27.0 + (rng.uniform(-6.0, 7.0) if generator == OTHER_HEAT else rng.uniform(-2.0, 2.0))
    above = np.array([mounting_model(plane.mounting).cell_above_back_k for plane in site.planes])
    if generator == OTHER_HEAT:
        above = above + rng.uniform(-3.0, 4.0)
    drift = np.stack([HEAT_DRIFT_K * _slow(steps, unknown, rng) for _ in range(planes)], axis=1)
    heat = air[:, None] + rise * glass / 1000.0 + drift
    heat += PLANE_HEAT_K * np.array([unknown() for _ in range(planes)])
    gain = np.exp(SPREADS["sensor_light"] * unknown()) / slip.sensor
    own = [
        np.exp(
            SPREADS["plane_light"] * unknown()
            + SPREADS["sensor_drift"] * _slow(steps, unknown, rng)
        )
        for _ in range(planes)
    ]
    sensed = glass / (gain * np.stack(own, axis=1))
    felt = heat - SENSOR_HEAT_K * unknown()
    felt = felt - np.array([PLANE_HEAT_K * unknown() for _ in range(planes)])
    if sensors == LIGHT_ON_ONE:
        chosen = int(rng.integers(planes))
        sensed[:, np.arange(planes) != chosen] = np.nan
    return Weather(light, heat + above * glass / 1000.0, sensed, felt)


def _inputs(site, wiring, slip, around):
    """Return voltages and currents of all inputs (step, tracker), zero while one doesn't run."""
    strings = named_strings(site, wiring)
    names = list(dict.fromkeys(each.input_name for each in strings))
    curves = [
        group_curves(site, plane, light, cells)
        for plane, light, cells in zip(site.planes, around.light.T, around.cells.T, strict=True)
    ]
    volts, amperes = np.zeros((2, len(around.light), len(names)))
    for at, name in enumerate(names):
        own = [place for place, each in enumerate(strings) if each.input_name == name]
        closed = [place for place in own if not slip.open[place]]
        # A reversed string drags the input's voltage below zero: it never starts.
        if not closed or (slip.sign[own] < 0.0).any():
            continue
        mppt = site.inputs()[name]
        wired = [strings[place].string for place in closed]
        points = input_points(site, mppt, wired, slip.groups[closed], curves)
        on = running(points, mppt)
        volts[:, at], amperes[:, at] = points.volts * on, points.amperes * on
    return volts, amperes


def _measured(site, times, sensors, around):
    """Return the light and temperatures that were written down, None where none were."""
    if sensors == NO_LIGHT:
        return None
    written = {}
    for place, plane in enumerate(site.planes):
        if np.isnan(around.sensed[:, place]).all():
            continue
        sensed = np.round(around.sensed[:, place])
        written[measured_name(POA, plane.name)] = ("time", sensed, {"units": "W/m2"})
        felt = np.round(around.felt[:, place], 1)
        written[measured_name(MODULE, plane.name)] = ("time", felt, {"units": "degC"})
    return xr.Dataset(written, {"time": times})


def _gross(volts, amperes, weather, rng):
    """Spoil one to two hours of one column: a bad hour, or a run of rows off."""
    columns = [values[:, at] for values in (volts, amperes) for at in range(volts.shape[1])]
    if weather is not None:
        columns += [weather[name].to_numpy() for name in weather if str(name).startswith(POA)]
    lit = [own for own in columns if np.count_nonzero(own > 0.0) > 20]
    chosen = lit[int(rng.integers(len(lit)))]
    there = np.flatnonzero(chosen > 0.0)
    begin = int(rng.choice(there[5:-15]))
    chosen[begin : begin + int(rng.integers(6, 13))] *= rng.choice([0.4, 0.7, 0.85, 1.15, 1.35])


def _written(site, wiring, times, volts, amperes, weather):
    """Return what the plant writes: 0.1 V, 0.01 A, whole watts; night and clipped steps left out.

    What is clipped is known by the power of all inputs of an inverter.
    """
    names = list(dict.fromkeys(each.input_name for each in named_strings(site, wiring)))
    volts, amperes = np.round(volts, 1), np.round(amperes, 2)
    power = np.round(volts * amperes)
    left_out = np.zeros(power.shape, dtype=np.int8)
    for one in site.each_inverter():
        prefix = f"{one.name} / " if site.several_inverters else ""
        own = [
            names.index(f"{prefix}{mppt.name}")
            for mppt in one.site.single_inverter.mppts
            if f"{prefix}{mppt.name}" in names
        ]
        clipped = power[:, own].sum(axis=1) > 0.98 * one.site.single_inverter.ac.nominal_power_w
        left_out[np.ix_(clipped, own)] = REASONS.index(CLIPPED)
    left_out[power.sum(axis=1) < 30.0] = REASONS.index(NIGHT)
    dims = ("time", "tracker")
    data = xr.Dataset(
        {
            "v_dc": (dims, volts, {"units": "V"}),
            "i_dc": (dims, amperes, {"units": "A"}),
            "p_dc": (dims, power, {"units": "W"}),
            "left_out": (dims, left_out, {"units": "1"}),
        },
        {"time": times, "tracker": names},
        {
            "interval_s": INTERVAL_S,
            "utc_offset_s": site.site.utc_offset_s,
            "time_zone": site.site.time_zone,
        },
    )
    return PlantLog("a clear day", data, weather)
