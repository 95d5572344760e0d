"""Invented logs: volts, amperes and watts of a site's inputs by the day, and light beside them.

Sky, light on planes, glass and operating points come from pvlib's own functions (Ineichen's sky at
a drawn turbidity, Hay and Davies' transposition, its physical glass, its single diode), not from
this project's sky and circuit; only the modules' diode is shared.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pvlib
import xarray as xr

from yieldkit.base.measured_planes import MODULE, POA, measured_name
from yieldkit.design.equipment.modules import fit_module_type
from yieldkit.physics.module.datasheet import translation_arguments
from yieldkit.study.logs.plant_log import PlantLog

_FINER = 5
"""Moments in a step, whose mean it is."""
_EFFICIENCY = 0.97


@dataclass(frozen=True)
class Weather:
    """How a day is.

    `haze` multiplies the turbidity; `thin` is how much a veil of cloud takes, as a standard
    deviation that changes slowly; `clouds` is the share of the day in which clouds take much;
    `tails` draws all noise from Student's t of three degrees of freedom; `noise` is that of single
    values; `apart` how far each plane's light drifts for itself in waves of a day and half a day.
    """

    haze: float = 1.0
    drift: float = 0.0
    thin: float = 0.0
    clouds: float = 0.0
    tails: bool = False
    noise: float = 0.004
    air: float = 16.0
    apart: float = 0.0


CLEAR = Weather()


def moments(start, days, minutes):
    """Return starts of steps, naive UTC."""
    return pd.date_range(
        pd.Timestamp(start), periods=int(days * 1440 / minutes), freq=f"{minutes}min"
    )


def invented_log(
    site,
    wiring,
    start="2026-05-02",
    days=1,
    minutes=10,
    ahead_min=0.0,
    weather=CLEAR,
    seed=0,
    held_w=None,
    sensors=False,
    sensors_ahead_min=None,
    digits=(1, 2, 0),
):
    """Return a log whose clock is ahead by so many minutes (one number, or a number for each day).

    Parameters
    ----------
    held_w : float, optional
        AC power at which the first inverter is held.
    sensors : bool
        Whether light and heat of each plane were written too.
    digits : tuple of int
        Decimals of volts, amperes and watts.
    """
    rng = np.random.default_rng(seed)
    times = moments(start, days, minutes) - pd.Timedelta(seconds=site.site.utc_offset_s)
    per_day = int(1440 / minutes)
    ahead = np.repeat(np.broadcast_to(ahead_min, (days,)), per_day)
    truly = times - pd.to_timedelta(ahead * 60.0, unit="s")
    volts, amperes, light, cells = points(site, wiring, truly, minutes, weather, rng)
    power = volts * amperes
    p_ac = np.zeros((len(times), len(site.each_inverter())))
    on = inverter_of(site, wiring)
    for at, one in enumerate(site.each_inverter()):
        own = on == at
        side = one.site.single_inverter.ac
        most = (side.max_power_w or side.nominal_power_w) if held_w is None else held_w
        share = np.minimum(1.0, most / np.maximum(_EFFICIENCY * power[:, own].sum(axis=1), 1e-9))
        volts[:, own], amperes[:, own] = moved_up(volts[:, own], amperes[:, own], share)
        power[:, own] = volts[:, own] * amperes[:, own]
        p_ac[:, at] = _EFFICIENCY * power[:, own].sum(axis=1)
    held = {"v_dc": volts, "i_dc": amperes, "p_dc": power}
    for name in held:
        own = 0.5 if name == "v_dc" else 1.0
        draw = draws(rng, weather.tails, held[name].shape)
        if name != "p_dc":
            held[name] = held[name] * (1.0 + own * weather.noise * draw)
        else:
            held[name] = held["v_dc"] * held["i_dc"]
    held = {name: np.round(held[name], own) for name, own in zip(held, digits, strict=True)}
    if sensors and sensors_ahead_min is not None:
        other = times - pd.to_timedelta(sensors_ahead_min * 60.0, unit="s")
        *_, light, cells = points(
            site, wiring, other, minutes, weather, np.random.default_rng(seed)
        )
    found = measured(site, times, light, cells, rng, weather) if sensors else None
    return as_log(site, wiring, times, held, np.round(p_ac), minutes, found)


def as_log(site, wiring, times, held, p_ac, minutes, weather=None):
    """Return arrays (step, tracker) and AC power (step, inverter) as a log."""
    dims = ("time", "tracker")
    shape = next(iter(held.values())).shape
    data = {name: (dims, values, {}) for name, values in held.items()}
    data["left_out"] = (dims, np.zeros(shape, dtype=np.int8), {"units": "1"})
    if p_ac is not None:
        data["p_ac"] = (("time", "inverter"), p_ac, {})
    coords = {
        "time": times,
        "tracker": [site.input_name(own) for own in wiring.trackers],
        "inverter": [one.name for one in site.each_inverter()],
    }
    attrs = {
        "interval_s": 60.0 * minutes,
        "utc_offset_s": site.site.utc_offset_s,
        "time_zone": site.site.time_zone,
    }
    return PlantLog("invented", xr.Dataset(data, coords, attrs), weather)


def draws(rng, tails, shape):
    """Return numbers of unit variance."""
    return rng.standard_t(3, shape) / np.sqrt(3.0) if tails else rng.standard_normal(shape)


def slow(rng, tails, steps, corner):
    """Return a slowly changing series of unit variance: each value much like the one before."""
    own = draws(rng, tails, steps)
    keeps = np.exp(-1.0 / corner)
    found = np.empty(steps)
    last = own[0]
    for at, new in enumerate(own):
        last = keeps * last + np.sqrt(1.0 - keeps**2) * new
        found[at] = last
    return found


def passing(weather, steps, rng):
    """Return the share of a cloudless sky's light that a day lets through (step,)."""
    share = np.exp(weather.drift * np.linspace(-1.0, 1.0, steps))
    share = share * np.exp(-weather.thin * np.abs(slow(rng, weather.tails, steps, 6.0)))
    if weather.clouds:
        thick = slow(rng, False, steps, 4.0)
        covered = thick > np.quantile(thick, 1.0 - weather.clouds)
        share = np.where(covered, share * rng.uniform(0.15, 0.6, steps), share)
    return share


def points(site, wiring, starts, minutes, weather, rng):
    """Return volts and amperes (step, tracker), light and heat (step, plane)."""
    steps = len(starts)
    inner = (np.arange(_FINER) + 0.5) / _FINER * minutes
    every = (starts.to_numpy()[:, None] + (inner * 60e9).astype("timedelta64[ns]")).ravel()
    every = pd.DatetimeIndex(every).tz_localize("UTC")
    place = pvlib.location.Location(
        site.site.latitude, site.site.longitude, altitude=site.site.altitude_m
    )
    sun = place.get_solarposition(every)
    turbid = pvlib.clearsky.lookup_linke_turbidity(
        every, place.latitude, place.longitude, interp_turbidity=False
    )
    extra = np.asarray(pvlib.irradiance.get_extra_radiation(np.asarray(every.day_of_year)))
    sky = place.get_clearsky(
        every,
        solar_position=sun,
        linke_turbidity=np.asarray(turbid) * weather.haze,
        dni_extra=pd.Series(extra, every),
    )
    through = np.concatenate(
        [passing(weather, int(1440 / minutes), rng) for _ in range(steps // int(1440 / minutes))]
    )
    dim = np.repeat(through, _FINER)
    # What clouds take of the beam comes back from the sky in part.
    dni = sky["dni"] * dim**1.5
    dhi = sky["dhi"] * (1.0 + 0.5 * (1.0 - dim))
    ghi = dni * np.cos(np.radians(sun["apparent_zenith"])).clip(0.0) + dhi
    glass, inside = [], []
    for plane in site.planes:
        aoi = pvlib.irradiance.aoi(
            plane.tilt_deg, plane.azimuth_deg, sun["apparent_zenith"], sun["azimuth"]
        )
        own = pvlib.irradiance.get_total_irradiance(
            plane.tilt_deg,
            plane.azimuth_deg,
            sun["apparent_zenith"],
            sun["azimuth"],
            dni,
            ghi,
            dhi,
            dni_extra=extra,
            albedo=site.site.albedo,
            model="haydavies",
        ).fillna(0.0)
        seen = own["poa_direct"] * pvlib.iam.physical(aoi) + 0.95 * own["poa_diffuse"]
        glass.append(own["poa_global"].to_numpy().reshape(steps, _FINER).mean(axis=1))
        inside.append(seen.to_numpy().reshape(steps, _FINER).mean(axis=1))
    glass, inside = np.stack(glass, axis=1), np.stack(inside, axis=1)
    glass, inside = glass * (own := waves(weather, starts, len(site.planes), rng)), inside * own
    hours = (starts.hour + starts.minute / 60.0).to_numpy() + site.site.utc_offset_s / 3600.0
    air = weather.air + 5.0 * np.cos((hours - 15.0) / 24.0 * 2.0 * np.pi)
    cells = air[:, None] + 27.0 * glass / 1000.0
    volts, amperes = wired(site, wiring, inside, cells)
    return volts, amperes, glass, cells


def waves(weather, starts, planes, rng):
    """Return by how much each plane's light is off for itself [1] (step, plane)."""
    along = (starts - starts[0]).total_seconds().to_numpy() / 86400.0
    day = np.floor(along).astype(int)
    found = np.zeros((len(starts), planes))
    for often in (1.0, 2.0):
        height, turn = rng.standard_normal((2, day.max() + 1, planes))
        found += height[day] * np.sin(2.0 * np.pi * (often * along[:, None] + turn[day]))
    return np.exp(weather.apart * found)


def wired(site, wiring, inside, cells):
    """Return volts and amperes of each input at most power, string by string on its own plane."""
    each = {}
    for at, plane in enumerate(site.planes):
        module = next(own for own in site.module_types if own.name == plane.module_type)
        fit = fit_module_type(module)
        lit = np.maximum(inside[:, at], 0.0)
        found = pvlib.pvsystem.calcparams_cec(
            np.maximum(lit, 1e-3),
            cells[:, at],
            Adjust=fit.adjust_percent,
            **translation_arguments(fit.reference),
        )
        curve = pvlib.pvsystem.singlediode(*found)
        dark = lit < 8.0
        each[plane.name] = (
            np.where(dark, 0.0, np.asarray(curve["v_mp"])),
            np.where(dark, 0.0, np.asarray(curve["i_mp"])),
        )
    volts, amperes = np.zeros((2, len(inside), len(wiring.trackers)))
    for at, tracker in enumerate(wiring.trackers):
        watts = np.zeros(len(inside))
        for string in tracker.strings:
            v = sum(own.modules * each[own.plane][0] for own in string.groups)
            i = np.min([each[own.plane][1] for own in string.groups], axis=0)
            watts += v * i
            volts[:, at] = np.maximum(volts[:, at], v)
        amperes[:, at] = np.divide(
            watts, volts[:, at], out=np.zeros_like(watts), where=volts[:, at] > 0.0
        )
    return volts, amperes


def moved_up(volts, amperes, share):
    """Return a point right of that of most power that gives a share of it.

    Near it power falls by the square of the distance; farther up by a straight line to no power at
    1.2 times its voltage.
    """
    away = np.sqrt(np.maximum(1.0 - share, 0.0))[:, None] * 0.2
    higher = volts * (1.0 + away)
    watts = volts * amperes * share[:, None]
    return higher, np.divide(watts, higher, out=np.zeros_like(watts), where=higher > 0.0)


def measured(site, times, light, cells, rng, weather):
    """Return light and heat as sensors on the planes read them: whole W/m2 and tenths of a K."""
    written = {}
    for at, plane in enumerate(site.planes):
        noise = 1.0 + weather.noise * draws(rng, weather.tails, len(times))
        written[measured_name(POA, plane.name)] = (
            "time",
            np.round(light[:, at] * noise),
            {"units": "W/m2", "sensor_tilt_deg": plane.tilt_deg}
            | {"sensor_azimuth_deg": plane.azimuth_deg},
        )
        back = cells[:, at] - 3.0 * light[:, at] / 1000.0
        written[measured_name(MODULE, plane.name)] = ("time", np.round(back, 1), {"units": "degC"})
    return xr.Dataset(written, {"time": times})


def inverter_of(site, wiring):
    """Return the position of each input's inverter (tracker,)."""
    names = [one.name for one in site.each_inverter()]
    return np.array(
        [names.index(own.inverter) if site.several_inverters else 0 for own in wiring.trackers]
    )


def changed(log, **columns):
    """Return a log with columns of its data replaced."""
    data = log.data.assign(
        {
            name: (log.data[name].dims, values, log.data[name].attrs)
            for name, values in columns.items()
        }
    )
    return PlantLog(log.name, data, log.weather, log.clock, log.remarks)
