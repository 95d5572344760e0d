"""Invented installations and their readings by meter: the judge has to find the truth.

Voltages and currents come from pvlib's single-diode functions, not from this project's circuit.
Only light below a cloudless sky, its passage through glass and the modules' diode are shared with
the judge.
Fixed before the judge was written.
"""

from typing import NamedTuple

import numpy as np
import pandas as pd
import pvlib

from yieldkit.design.equipment.modules import fit_module_type
from yieldkit.physics.module.datasheet import translation_arguments
from yieldkit.physics.module.temperature import mounting_model
from yieldkit.study.handover import slips as handover_slips
from yieldkit.study.handover.meter import MeterReadings
from yieldkit.study.handover.slips import all_slips, drawn_wiring, priors
from yieldkit.study.simulation.plane_sky import cloudless, plane_sky

GAUSS, OTHER_HEAT, TAILS_ON_READINGS, TAILS_ON_UNKNOWNS, MISREADING = (
    "Gaussian",
    "another temperature model",
    "Student's t on readings",
    "Student's t on unknowns",
    "one gross misreading",
)
GENERATORS = (GAUSS, OTHER_HEAT, TAILS_ON_READINGS, TAILS_ON_UNKNOWNS, MISREADING)
SPREADS = {
    "meter_v": 0.005,
    "meter_a": 0.015,
    "modules_v": 0.01,
    "modules_a": 0.015,
    "sensor_light": 0.03,
    "plane_light": 0.015,
    "reading_v": 0.004,
    "reading_a": 0.008,
}
SENSOR_HEAT_K, PLANE_HEAT_K = 3.0, 2.0
_DAYS = ("2026-03-25", "2026-05-02", "2026-06-21", "2026-08-14", "2026-09-20")


class Installation(NamedTuple):
    """An invented installation: the site, the truth among the slips, and what was read.

    `truth` is the position among the slips, or None where two slips were made at once.
    """

    site: object
    wiring: object
    names: tuple
    slips: tuple
    truth: int | None
    misread: int | None
    readings: MeterReadings


def installations(sites, generator, number, seed):
    """Give invented installations of one generator."""
    rng = np.random.default_rng([GENERATORS.index(generator), seed])
    for at in range(number):
        site, wiring = sites[at % len(sites)]
        yield installation(site, wiring, generator, rng)


def installation(site, wiring, generator, rng):
    """Return one invented installation, its truth drawn from the prior."""
    strings = [string for tracker in wiring.trackers for string in tracker.strings]
    names = tuple("ABCDEFGHIJKL"[: len(strings)])
    drawn = drawn_wiring(site, wiring, names)
    labels = [f"{quantity} of {name}" for name in names for quantity in ("voltage", "current")]
    slips = all_slips(drawn, labels)
    weights = priors(slips)
    truth = None
    possible = np.array([own.doubt is None for own in slips])
    if rng.random() < weights[[own.kind == handover_slips.NONE_OF_THESE for own in slips]].sum():
        own = _two_at_once(slips, possible, rng)
    else:
        truth = int(rng.choice(len(slips), p=weights * possible / (weights * possible).sum()))
        own = slips[truth]
    readings = _read(site, drawn, own, generator, rng)
    misread = None
    if generator == MISREADING:
        misread = int(rng.integers(len(readings.value)))
        values = readings.value.copy()
        values[misread] *= rng.choice([0.7, 0.85, 1.15, 1.35])
        readings = readings._replace(value=values)
    return Installation(site, wiring, names, slips, truth, misread, readings)


def _two_at_once(slips, possible, rng):
    """Return two slips of strings made at once."""
    groups = [at for at in np.flatnonzero(possible) if "module" in slips[at].kind]
    one, other = rng.choice(groups, 2, replace=False)
    both = slips[one].groups + slips[other].groups - slips[0].groups
    return slips[one]._replace(groups=np.maximum(both, 1.0))


def _moments(site, rng):
    """Return the moment of the first reading, in good light on every plane."""
    zone = pd.Timestamp(rng.choice(_DAYS)).tz_localize("UTC")
    noon = zone + pd.Timedelta(hours=12.0 - site.site.longitude / 15.0)
    for _ in range(100):
        start = noon + pd.Timedelta(minutes=float(rng.uniform(-210, 210)))
        lit = cloudless(site, pd.DatetimeIndex([start]))
        if min(plane_sky(site, plane, lit).poa_global[0] for plane in site.planes) > 260.0:
            return start
    return noon


def _read(site, drawn, slip, generator, rng):
    count, planes = len(drawn.strings), len(site.planes)
    unknown = _draws(generator == TAILS_ON_UNKNOWNS, rng)
    noise = _draws(generator == TAILS_ON_READINGS, rng)
    start = _moments(site, rng)
    moments = pd.DatetimeIndex(
        [start + pd.Timedelta(minutes=3.0 * at) for at in range(count) for _ in range(2)]
    )
    true_time = moments - pd.Timedelta(minutes=slip.clock_min)
    haze = rng.uniform(0.88, 1.02)
    glass, light = np.empty((2 * count, planes)), np.empty((2 * count, planes))
    lit = cloudless(site, true_time)
    for place, plane in enumerate(site.planes):
        lies = site.planes[slip.drawn_as[place]]
        turned = plane.model_copy(
            update={
                "azimuth_deg": (lies.azimuth_deg + slip.turned[place][0]) % 360.0,
                "tilt_deg": float(np.clip(lies.tilt_deg + slip.turned[place][1], 0.0, 90.0)),
            }
        )
        sky = plane_sky(site, turned, lit)
        glass[:, place] = haze * sky.poa_global
        light[:, place] = glass[:, place] * sky.passed * slip.light[place]
    heat = rng.uniform(8.0, 28.0) + 27.0 * glass / 1000.0 + rng.uniform(-4.0, 4.0)
    sensor = np.exp(SPREADS["sensor_light"] * unknown()) / slip.sensor
    own_light = np.exp(SPREADS["plane_light"] * np.array([unknown() for _ in range(planes)]))
    warm = SENSOR_HEAT_K * unknown() + PLANE_HEAT_K * np.array([unknown() for _ in range(planes)])
    read_in = np.repeat(np.argmax(drawn.modules, axis=1), 2)
    rows = np.arange(2 * count)
    above = np.array([mounting_model(plane.mounting).cell_above_back_k for plane in site.planes])
    if generator == OTHER_HEAT:
        above = above + rng.uniform(-3.0, 4.0)
    cells = heat + above * glass / 1000.0
    sensed = (glass / (sensor * own_light))[rows, read_in]
    felt = (heat - warm)[rows, read_in]
    gains = np.exp(
        [
            SPREADS["meter_v"] * unknown() + SPREADS["modules_v"] * unknown(),
            SPREADS["meter_a"] * unknown() + SPREADS["modules_a"] * unknown(),
        ]
    )
    own_noise = [SPREADS[("reading_v", "reading_a")[at % 2]] * noise() for at in range(2 * count)]
    values = _values(site, slip, light, cells) * gains[rows % 2] * (1.0 + np.array(own_noise))
    strings, quantities = np.repeat(np.arange(count), 2), np.tile([0, 1], count)
    return MeterReadings(strings, quantities, values, moments, sensed, felt)


def _draws(tails, rng):
    """Return a function that draws numbers of unit variance."""
    if tails:
        return lambda: float(rng.standard_t(3) / np.sqrt(3.0))
    return lambda: float(rng.standard_normal())


def _points(site, light, cells):
    """Return voltage of a cell group and current of a module, from pvlib (reading, plane) each."""
    volts, amperes = np.empty(light.shape), np.empty(light.shape)
    for place, plane in enumerate(site.planes):
        module = next(own for own in site.module_types if own.name == plane.module_type)
        fit = fit_module_type(module)
        found = pvlib.pvsystem.calcparams_cec(
            light[:, place],
            cells[:, place],
            Adjust=fit.adjust_percent,
            **translation_arguments(fit.reference),
        )
        curve = pvlib.pvsystem.singlediode(*found)
        volts[:, place] = np.asarray(curve["v_oc"]) / module.bypass_diodes
        amperes[:, place] = np.asarray(curve["i_sc"])
    return volts, amperes


def _values(site, slip, light, cells):
    """Return what each string has at its ends: voltage and current in turn."""
    volts, amperes = _points(site, light, cells)
    strings = np.repeat(np.arange(len(slip.groups)), 2)
    groups = slip.groups[strings]
    at_voltage = (groups * volts).sum(axis=1)
    # Diodes bypass the darker modules of a short-circuited string.
    at_current = np.where(groups > 0.0, amperes, 0.0).max(axis=1)
    values = np.where(np.arange(len(strings)) % 2 == 0, at_voltage, at_current)
    return values * slip.sign[strings] * (1.0 - slip.open[strings])
