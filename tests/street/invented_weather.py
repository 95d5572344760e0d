"""Invented weather: a clear sky with clouds drawn from a seed, at a house's own place.

A sky in steps of five minutes is averaged over the file's step, so that an hour's value is a mean
as a station would log it. Nothing here is meant to be a climate; it has to be whole, consistent
(global = diffuse + direct times the cosine of the zenith) and the same in every run.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from pvlib import atmosphere, clearsky, irradiance, solarposition

_FINE = pd.Timedelta(minutes=5)
_TURBIDITY = 3.0
_DECIMALS = {"ghi": 1, "dni": 1, "dhi": 1, "temp_air": 1, "wind_speed": 1, "pressure": 0}


@dataclass(frozen=True)
class Climate:
    """What the invented weather of a place is drawn from.

    Parameters
    ----------
    first : str
        First day by the local clock.
    days : int
        How many days.
    step_min : int
        Step of the file [min].
    seed : int
        Seed of clouds, warmth and wind.
    cloudiness : float
        Mean share of the clear sky's light that clouds take [1].
    mean_c, season_k, day_k : float
        Mean temperature [degC], half the swing of the year and of the day [K].
    warmest_day : int
        Day of the year on which it is warmest.
    wind_m_s : float
        Mean wind [m/s].
    """

    first: str
    days: int
    step_min: int
    seed: int
    cloudiness: float = 0.35
    mean_c: float = 10.0
    season_k: float = 9.0
    day_k: float = 5.0
    warmest_day: int = 205
    wind_m_s: float = 2.5


@dataclass(frozen=True)
class Gaps:
    """What a weather file lacks, by the local clock.

    Parameters
    ----------
    outage : tuple of (str, int)
        When a logger stood still, and for how many hours.
    without_all, without_warmth : tuple of str
        Lone steps that lack everything, or the air temperature only.
    """

    outage: tuple[str, int]
    without_all: tuple[str, ...]
    without_warmth: tuple[str, ...]


def holed(table: pd.DataFrame, gaps: Gaps, offset_h: float) -> pd.DataFrame:
    """Return a table with nan where values are lacking."""

    def at(local: str) -> pd.Timestamp:
        return (pd.Timestamp(local) - pd.Timedelta(hours=offset_h)).tz_localize("UTC")

    found = table.copy()
    first = at(gaps.outage[0])
    gone = (found.index >= first) & (found.index < first + pd.Timedelta(hours=gaps.outage[1]))
    found.loc[gone] = np.nan
    found.loc[[at(each) for each in gaps.without_all]] = np.nan
    found.loc[[at(each) for each in gaps.without_warmth], "temp_air"] = np.nan
    return found


def invented(place: dict, climate: Climate, offset_h: float) -> pd.DataFrame:
    """Return a table of means, its index in UTC at the start of each step.

    Parameters
    ----------
    place : dict
        `latitude`, `longitude` and `altitude_m`, as in a site file.
    climate : Climate
        What is drawn.
    offset_h : float
        Hours by which the local clock is ahead of UTC.
    """
    local_start = pd.Timestamp(climate.first)
    start = (local_start - pd.Timedelta(hours=offset_h)).tz_localize("UTC")
    count = climate.days * 288
    middles = pd.date_range(start + _FINE / 2, periods=count, freq=_FINE)
    rng = np.random.default_rng(climate.seed)
    light = _light(middles, place, climate, rng)
    table = light.assign(**_air(middles, place, climate, offset_h, rng))
    starts = table.set_axis(middles - _FINE / 2, axis="index")
    step = pd.Timedelta(minutes=climate.step_min)
    return starts.resample(step, origin=start).mean().round(_DECIMALS)


def _light(
    times: pd.DatetimeIndex, place: dict, climate: Climate, rng: np.random.Generator
) -> pd.DataFrame:
    sun = solarposition.get_solarposition(
        times, place["latitude"], place["longitude"], place["altitude_m"]
    )
    pressure = atmosphere.alt2pres(place["altitude_m"])
    airmass = atmosphere.get_absolute_airmass(
        atmosphere.get_relative_airmass(sun["apparent_zenith"]), pressure
    )
    clear = clearsky.ineichen(
        sun["apparent_zenith"],
        airmass,
        _TURBIDITY,
        altitude=place["altitude_m"],
        dni_extra=irradiance.get_extra_radiation(times.day_of_year),
    ).fillna(0.0)
    cosine = np.cos(np.radians(sun["zenith"])).clip(lower=0.0)
    passed = _passed(times.size, climate, rng)
    beam = clear["dni"] * np.clip((passed - 0.25) / 0.75, 0.0, 1.0) ** 1.3
    through = clear["dhi"] * (0.5 + 0.5 * passed) + 0.55 * (
        passed * clear["dni"] * cosine - beam * cosine
    ).clip(lower=0.0)
    dni = beam.where(sun["apparent_zenith"] < 89.5, 0.0)
    dhi = through.where(sun["apparent_zenith"] < 96.0, 0.0)
    return pd.DataFrame({"ghi": dhi + dni * cosine, "dni": dni, "dhi": dhi})


def _passed(count: int, climate: Climate, rng: np.random.Generator) -> np.ndarray:
    """Return the share of light that clouds let pass, smooth over days and over an hour."""
    days = rng.normal(size=count // 288 + 2)
    slow = np.interp(np.arange(count) / 288.0, np.arange(days.size), days)
    hours = rng.normal(size=count // 12 + 2)
    quick = np.interp(np.arange(count) / 12.0, np.arange(hours.size), hours)
    clouds = climate.cloudiness * (1.0 + 0.8 * slow + 0.35 * quick)
    return np.clip(1.0 - clouds, 0.12, 1.0)


def _air(
    times: pd.DatetimeIndex,
    place: dict,
    climate: Climate,
    offset_h: float,
    rng: np.random.Generator,
) -> dict[str, np.ndarray]:
    local = times + pd.Timedelta(hours=offset_h)
    hour = local.hour + local.minute / 60.0
    draws = rng.normal(size=times.size // 288 + 2)
    weather = np.interp(np.arange(times.size) / 288.0, np.arange(draws.size), draws)
    season = np.cos(2.0 * np.pi * (local.day_of_year - climate.warmest_day) / 365.25)
    day = np.cos(2.0 * np.pi * (hour - 15.0) / 24.0)
    gusts = rng.gamma(3.0, climate.wind_m_s / 3.0, size=times.size // 12 + 2)
    wind = np.interp(np.arange(times.size) / 12.0, np.arange(gusts.size), gusts)
    warmth = climate.mean_c + climate.season_k * season + climate.day_k * day + 2.0 * weather
    return {
        "temp_air": np.asarray(warmth),
        "wind_speed": np.maximum(wind, 0.1),
        "pressure": np.full(times.size, float(atmosphere.alt2pres(place["altitude_m"]))),
    }
