"""Invented year logs: truth by pvlib's sky, heat and diode, not by this project's.

Only the diode's fitted figures are shared with the review. What a right plant differs by: gains of
sensors and of the inverter's own meters, modules' tolerance, heat, tilts and azimuths a little off,
light that varies from step to step, and rounding.
"""

from dataclasses import dataclass, field
from functools import cache

import numpy as np
import pandas as pd
import pvlib
import xarray as xr

import yieldkit
from yieldkit.base.measured_planes import MODULE, POA, measured_name
from yieldkit.design.equipment.modules import fit_module_type
from yieldkit.physics.module.datasheet import translation_arguments
from yieldkit.study.logs.plant_log import ClockOffset, PlantLog
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame

STEP_MIN = 10


@dataclass
class Drawn:
    """What is wrong with a plant; nothing by default.

    `shadow`: (tracker, first hour, hour after the last, share of direct light lost).
    `clock_min`: by how much light and power are written late. `power_late_min`: the power alone.
    `tilt`, `azimuth`: by plane, degrees more than drawn, with the sensor left as drawn.
    `dirt`: share of light lost, by plane. `dead`: (tracker, string) with one substring dead.
    `open_string`: (tracker, string). `sensor`: gain of all sensors. `resistance`: ohm of the loop.
    `plateau_w`: by tracker. `since`: share of the year after which `dirt` and `dead` begin.
    """

    shadow: tuple | None = None
    clock_min: float = 0.0
    power_late_min: float = 0.0
    tilt: dict = field(default_factory=dict)
    azimuth: dict = field(default_factory=dict)
    dirt: dict = field(default_factory=dict)
    dead: tuple | None = None
    open_string: tuple | None = None
    sensor: float = 1.0
    resistance: float = 0.30
    plateau_w: dict = field(default_factory=dict)
    since: float = 0.0


@cache
def site_of(name):
    """Return a site by its file, with the first of its wirings."""
    return yieldkit.load_site() if name == "demo" else yieldkit.load_site(name)


def log_of(site, wiring, drawn=None, seed=1, every=9, sensors="planes", fresh=False, days=None):
    """Return the log of a year, every so many days of it.

    `sensors`: "planes" for light and heat measured on each plane, "level" for global light.
    `days`: from which to which day of the year instead, all of them.
    `fresh`: whether nobody has looked at its clock and its faults yet.
    """
    drawn = drawn or Drawn()
    rng = np.random.default_rng(seed)
    times, step_of_year = _times(site, every, days)
    sky = _sky(site, times, rng)
    unsure = _unsure(site, rng)
    planes = [_plane(site, at, times, sky, drawn, unsure) for at in range(len(site.planes))]
    weather = _weather(site, times, sky, planes, sensors, drawn, unsure, rng)
    data = _inverters(site, wiring, times, step_of_year, planes, drawn, unsure, rng)
    moved = pd.Timedelta(minutes=drawn.clock_min)
    data = data.assign_coords(time=times + moved)
    weather = weather.assign_coords(time=times + moved)
    looked_at = () if fresh else (ClockOffset("2025-01-01", 0.0, -1.0, 1.0),)
    return PlantLog("invented.csv", data, weather, looked_at)


def _times(site, every, days):
    offset = pd.Timedelta(seconds=site.site.utc_offset_s)
    start = pd.Timestamp("2025-01-01") - offset
    whole = pd.date_range(start, periods=365 * 24 * 60 // STEP_MIN, freq=f"{STEP_MIN}min")
    day = np.arange(whole.size) * STEP_MIN // (24 * 60)
    kept = day % every == 0 if days is None else (day >= days[0]) & (day < days[1])
    return whole[kept], np.arange(whole.size)[kept] / whole.size


def _unsure(site, rng):
    """Draw how a right plant differs from its drawing."""
    count = len(site.planes)
    return {
        "light": 1.0 + 0.02 * rng.standard_normal(),
        "plane_light": 1.0 + 0.01 * rng.standard_normal(count),
        "tolerance": 1.0 + 0.005 * rng.standard_normal(count),
        "tilt": rng.uniform(-1.0, 1.0, count),
        "azimuth": rng.uniform(-2.0, 2.0, count),
        "heat": 2.0 * rng.standard_normal(),
        "u0": rng.uniform(22.0, 28.0),
        "volts": 1.0 + 0.004 * rng.standard_normal(20),
        "amperes": 1.0 + 0.008 * rng.standard_normal(20),
    }


def _sky(site, times, rng):
    place = site.site
    middle = times.tz_localize("UTC") + pd.Timedelta(minutes=STEP_MIN / 2)
    sun = pvlib.solarposition.get_solarposition(
        middle, place.latitude, place.longitude, place.altitude_m
    )
    zenith = sun["apparent_zenith"].to_numpy()
    days = times.day_of_year.to_numpy()
    extra = 1361.0 * (1.0 + 0.0334 * np.cos(2.0 * np.pi * (days - 3) / 365.25))
    air = pvlib.atmosphere.get_relative_airmass(zenith)
    pressure = pvlib.atmosphere.alt2pres(place.altitude_m)
    absolute = pvlib.atmosphere.get_absolute_airmass(air, pressure)
    with np.errstate(all="ignore"):
        clear = pvlib.clearsky.ineichen(zenith, absolute, 3.0, place.altitude_m, extra)
    ghi, dni, dhi = (np.nan_to_num(clear[name]) for name in ("ghi", "dni", "dhi"))
    day = (np.arange(times.size) * STEP_MIN) // (24 * 60)
    clearness = rng.beta(1.2, 1.0, day.max() + 1)[day]
    noise = np.zeros(times.size)
    draws = rng.standard_normal(times.size)
    for at in range(1, times.size):
        noise[at] = 0.8 * noise[at - 1] + 0.6 * draws[at]
    broken = 1.0 - np.abs(2.0 * clearness - 1.0)
    through = np.clip(clearness + 0.5 * broken * noise, 0.0, 1.0)
    through = np.where(clearness > 0.85, 1.0, through)
    cos = np.cos(np.radians(np.minimum(zenith, 90.0)))
    beam = dni * through
    diffuse = dhi * (1.0 + 0.8 * (1.0 - through)) + 0.18 * (1.0 - through) * ghi
    season = np.cos(2.0 * np.pi * (days - 200) / 365.0)
    local = (times.hour + times.minute / 60.0).to_numpy() + place.longitude / 15.0
    temp = 11.0 + 10.0 * season + 5.0 * np.cos(2.0 * np.pi * (local - 15.0) / 24.0)
    wind = np.clip(2.0 + rng.standard_normal(times.size), 0.2, 9.0)
    return {
        "sun": sun,
        "zenith": zenith,
        "ghi": beam * cos + diffuse,
        "dni": beam,
        "dhi": diffuse,
        "extra": extra,
        "air": air,
        "temp_air": temp,
        "wind_speed": wind,
    }


def _on(sky, site, tilt, azimuth):
    return pvlib.irradiance.get_total_irradiance(
        tilt,
        azimuth,
        sky["zenith"],
        sky["sun"]["azimuth"].to_numpy(),
        sky["dni"],
        sky["ghi"],
        sky["dhi"],
        dni_extra=sky["extra"],
        airmass=sky["air"],
        albedo=site.site.albedo,
        model="perez-driesse",
    )


def _plane(site, at, times, sky, drawn, unsure):
    """Return a plane's light as a sensor sees it, light in its cells by parts, and its heat."""
    plane = site.planes[at]
    tilt = np.clip(plane.tilt_deg + drawn.tilt.get(at, 0.0) + unsure["tilt"][at], 0.0, 90.0)
    azimuth = plane.azimuth_deg + drawn.azimuth.get(at, 0.0) + unsure["azimuth"][at]
    own = _on(sky, site, tilt, azimuth)
    seen = _on(sky, site, plane.tilt_deg, plane.azimuth_deg)
    aoi = pvlib.irradiance.aoi(tilt, azimuth, sky["zenith"], sky["sun"]["azimuth"].to_numpy())
    passed = np.nan_to_num(pvlib.iam.physical(np.clip(aoi, 0.0, 90.0)))
    direct = np.nan_to_num(own["poa_direct"]) * passed
    diffuse = np.nan_to_num(own["poa_diffuse"]) * 0.95
    glass = np.nan_to_num(own["poa_global"])
    module = pvlib.temperature.faiman(glass, sky["temp_air"], sky["wind_speed"], unsure["u0"], 6.5)
    return {
        "sensor": np.nan_to_num(seen["poa_global"]),
        "direct": direct,
        "diffuse": diffuse,
        "module": module,
        "cell": module + 2.5 * glass / 1000.0,
    }


def _weather(site, times, sky, planes, sensors, drawn, unsure, rng):
    station = Station(
        site.site.latitude,
        site.site.longitude,
        site.site.altitude_m,
        int(site.site.utc_offset_s),
        10.0,
        named=False,
    )
    day = times[:144].tz_localize("UTC")
    names = ("ghi", "dni", "dhi", "temp_air", "wind_speed")
    gain = unsure["light"] * drawn.sensor
    level = {
        name: np.round(sky[name] * (gain if name in ("ghi", "dni", "dhi") else 1.0), 1)
        for name in names
    }
    frame = pd.DataFrame({name: column[:144] for name, column in level.items()}, day)
    attrs = from_frame(frame, station, Sampling("mean", "start")).attrs
    offset = site.site.utc_offset_s
    variables = {name: ("time", column) for name, column in level.items()}
    if sensors == "planes":
        for at, plane in enumerate(site.planes):
            noise = 1.0 + 0.004 * rng.standard_normal(times.size)
            light = planes[at]["sensor"] * gain * unsure["plane_light"][at] * noise
            heat = planes[at]["module"] + unsure["heat"]
            variables[measured_name(POA, plane.name)] = ("time", np.round(light))
            variables[measured_name(MODULE, plane.name)] = ("time", np.round(heat, 1))
    attrs = {**attrs, "utc_offset_s": offset, "time_zone": site.site.time_zone}
    return xr.Dataset(variables, {"time": times}, attrs)


def _inverters(site, wiring, times, of_year, planes, drawn, unsure, rng):
    names = [site.input_name(tracker) for tracker in wiring.trackers]
    v_dc, i_dc = np.zeros((times.size, len(names))), np.zeros((times.size, len(names)))
    local_hour = (times + pd.Timedelta(seconds=site.site.utc_offset_s)).hour.to_numpy()
    later = of_year >= drawn.since
    for at, tracker in enumerate(wiring.trackers):
        v_dc[:, at], i_dc[:, at] = _input(
            site, at, tracker, planes, drawn, unsure, local_hour, later
        )
    v_dc *= unsure["volts"][: len(names)] * (1.0 + 0.001 * rng.standard_normal(v_dc.shape))
    i_dc *= unsure["amperes"][: len(names)] * (1.0 + 0.004 * rng.standard_normal(i_dc.shape))
    for at, watts in drawn.plateau_w.items():
        i_dc[:, at] = np.minimum(i_dc[:, at], watts / np.maximum(v_dc[:, at], 1.0))
    if drawn.power_late_min:
        steps = round(drawn.power_late_min / STEP_MIN)
        v_dc, i_dc = np.roll(v_dc, steps, axis=0), np.roll(i_dc, steps, axis=0)
    inverters = site.each_inverter()
    p_ac, v_ac = np.zeros((2, times.size, len(inverters)))
    for at, one in enumerate(inverters):
        own = [
            place
            for place, tracker in enumerate(wiring.trackers)
            if not site.several_inverters or tracker.inverter == one.name
        ]
        power = (v_dc * i_dc)[:, own].sum(axis=1)
        rated = one.site.single_inverter.ac.nominal_power_w
        p_ac[:, at] = np.minimum(0.972 * power, rated)
        v_ac[:, at] = _terminals(site, times, p_ac[:, at], drawn.resistance, rng)
    data = {
        "v_dc": (("time", "tracker"), np.round(v_dc, 1)),
        "i_dc": (("time", "tracker"), np.round(i_dc, 2)),
        "p_dc": (("time", "tracker"), np.round(v_dc * i_dc)),
        "p_ac": (("time", "inverter"), np.round(p_ac)),
        "v_ac": (("time", "inverter"), np.round(v_ac, 1)),
        "left_out": (("time", "tracker"), np.zeros(v_dc.shape, dtype=np.int8), {"units": "1"}),
    }
    attrs = {
        "interval_s": 60.0 * STEP_MIN,
        "utc_offset_s": site.site.utc_offset_s,
        "time_zone": site.site.time_zone,
    }
    coords = {"time": times, "tracker": names, "inverter": [one.name for one in inverters]}
    return xr.Dataset(data, coords, attrs)


def _terminals(site, times, power, resistance, rng):
    """Return volts at the terminals over a network whose own voltage wanders by the hour."""
    hour = (times + pd.Timedelta(seconds=site.site.utc_offset_s)).hour.to_numpy()
    noise = np.zeros(times.size)
    draws = rng.standard_normal(times.size)
    for at in range(1, times.size):
        noise[at] = 0.92 * noise[at - 1] + 0.35 * draws[at]
    stiff = 230.0 + 1.5 * np.sin(2.0 * np.pi * (hour - 4) / 24.0) + noise
    stiff = stiff - 2.0 * np.exp(-(((hour - 19) / 2.5) ** 2))
    per_phase = power / site.phases
    return 0.5 * (stiff + np.sqrt(stiff**2 + 4.0 * resistance * per_phase))


def _input(site, at, tracker, planes, drawn, unsure, local_hour, later):
    """Return volts and amperes of an input: strings in parallel, each of modules in series."""
    strings = []
    for number, string in enumerate(tracker.strings):
        if drawn.open_string == (at, number):
            continue
        (group,) = string.groups
        place = [plane.name for plane in site.planes].index(group.plane)
        own = planes[place]
        direct, diffuse = own["direct"], own["diffuse"]
        if drawn.shadow is not None and drawn.shadow[0] == at:
            _, first, after, lost = drawn.shadow
            there = (local_hour >= first) & (local_hour < after)
            direct = np.where(there, direct * (1.0 - lost), direct)
        clean = 1.0 - drawn.dirt.get(place, 0.0) * later
        light = (direct + diffuse) * clean * unsure["tolerance"][place]
        plane = site.planes[place]
        module = next(each for each in site.module_types if each.name == plane.module_type)
        groups = np.full(light.size, float(group.modules))
        if drawn.dead == (at, number):
            groups = groups - later / module.bypass_diodes
        strings.append((_curve(module, light, own["cell"]), groups))
    return _maximum(strings)


def _curve(module, light, cells):
    fit = fit_module_type(module)
    return pvlib.pvsystem.calcparams_cec(
        np.maximum(light, 0.0),
        cells,
        Adjust=fit.adjust_percent,
        **translation_arguments(fit.reference),
    )


def _maximum(strings):
    """Return the point of greatest power of strings in parallel."""
    size = strings[0][1].size
    v, i = np.zeros(size), np.zeros(size)
    lit = np.flatnonzero(strings[0][0][0] > 0.05)
    alike = all(np.array_equal(strings[0][1], each[1]) for each in strings)
    own = [tuple(np.asarray(p)[lit] if np.ndim(p) else p for p in curve) for curve, _ in strings]
    groups = [count[lit] for _, count in strings]
    if alike:
        found = pvlib.pvsystem.singlediode(*own[0])
        v[lit] = np.asarray(found["v_mp"]) * groups[0]
        i[lit] = np.asarray(found["i_mp"]) * len(strings)
        return v, i
    about = np.asarray(pvlib.pvsystem.singlediode(*own[0])["v_mp"]) * groups[0]
    best = np.zeros(lit.size)
    for share in np.linspace(0.80, 1.10, 61):
        volts = about * share
        current = sum(
            np.maximum(pvlib.pvsystem.i_from_v(volts / count, *curve), 0.0)
            for curve, count in zip(own, groups, strict=True)
        )
        better = volts * current > best
        best = np.where(better, volts * current, best)
        v[lit[better]], i[lit[better]] = volts[better], current[better]
    return v, i
