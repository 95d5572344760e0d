"""The public services a year of weather can be asked of, through pvlib's own functions.

What a service leaves unsaid is stated here for each: how its values were sampled, at what height
wind holds, and whom to thank. Nothing here runs unless a person asks for it.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import partial
from typing import Any, NamedTuple

import pandas as pd
from pvlib import iotools

from yieldkit.base.errors import refuse
from yieldkit.weather.readers.canonical import Sampling
from yieldkit.weather.readers.source import own_names
from yieldkit.weather.services import asking

ADDRESSES: dict[str, str | None] = {
    "jrc": iotools.pvgis.URL,
    "nasa-power": iotools.nasa_power.URL,
    "nsrdb-typical-year": None,
    "nsrdb-hourly": None,
}
"""Where each service answers; None: where pvlib knows it to be."""

KEY, MAIL = "YIELDKIT_NSRDB_KEY", "YIELDKIT_NSRDB_EMAIL"
"""Environment variables with the key and the address it was given to."""

_JRC_WIND_M, _POWER_WIND_M, _NSRDB_WIND_M = 10.0, 10.0, 2.0
"""Heights the services' winds hold at [m]: the first two read in the names of their columns, the
third from memory."""


class Question(NamedTuple):
    """What is asked of a service.

    Parameters
    ----------
    source : str
        A key of `SERVICES`.
    latitude, longitude : float
        [deg].
    years : tuple of int or None
        First and last year; None: the service's own choice (typical years only).
    """

    source: str
    latitude: float
    longitude: float
    years: tuple[int, int] | None = None


class Answer(NamedTuple):
    """What a service told.

    Parameters
    ----------
    frame : DataFrame
        Columns by our names, labels as delivered, with a time zone.
    latitude, longitude, altitude_m : float
        Of the place the data are for [deg, m].
    sampling : Sampling
        How the values were sampled.
    wind_height_m : float
        [m].
    title : str
        What they are.
    """

    frame: pd.DataFrame
    latitude: float
    longitude: float
    altitude_m: float
    sampling: Sampling
    wind_height_m: float
    title: str


class Service(NamedTuple):
    """A service: who gives, what, how it is asked.

    Parameters
    ----------
    name : str
        What messages call it.
    typical : bool
        Whether it gives a typical year.
    attribution : str
        Whom to thank.
    ask : callable
        From a question to an answer; raises what the library raises.
    needs_key : bool
        Whether it answers to a key only.
    """

    name: str
    typical: bool
    attribution: str
    ask: Callable[[Question], Answer]
    needs_key: bool = False


def _jrc_typical(question: Question) -> Answer:
    """Ask for a typical year: snapshots, so many hours after their labels as the answer says."""
    first, last = question.years or (None, None)
    frame, meta = iotools.get_pvgis_tmy(
        question.latitude,
        question.longitude,
        startyear=first,
        endyear=last,
        url=ADDRESSES["jrc"],
        timeout=asking.TIMEOUT_S,
    )
    place, data = meta["inputs"]["location"], meta["inputs"]["meteo_data"]
    # Without the offset the light's instants would be a guess; no default stands in for it.
    offset_s = 3600.0 * float(place["irradiance_time_offset"])
    title = f"Typical year of {data['year_min']}-{data['year_max']} ({data['radiation_db']})"
    return _of_jrc(
        frame.rename(columns=_JRC_NAMES), place, Sampling("snapshot", "start", offset_s), title
    )


def _jrc_hourly(question: Question) -> Answer:
    """Ask for years of hours on the horizontal plane.

    Satellite values are snapshots at the very times written; those of a reanalysis are hourly
    means about them (the library's own note on this service: read).
    """
    first, last = _stated(question)
    frame, meta = iotools.get_pvgis_hourly(
        question.latitude,
        question.longitude,
        start=first,
        end=last,
        surface_tilt=0,
        components=True,
        url=ADDRESSES["jrc"],
        timeout=asking.TIMEOUT_S,
    )
    place, data = meta["inputs"]["location"], meta["inputs"]["meteo_data"]
    parts = frame["poa_direct"], frame["poa_sky_diffuse"], frame["poa_ground_diffuse"]
    # Direct normal light follows by closure when the file is read.
    frame = frame.assign(ghi=sum(parts), dhi=parts[1])
    means = "ERA5" in str(data["radiation_db"])
    sampling = Sampling("mean", "middle") if means else Sampling("snapshot", "start", 0.0)
    return _of_jrc(
        frame, place, sampling, f"Hours of {years_text((first, last))} ({data['radiation_db']})"
    )


_JRC_NAMES = {"RH": "relative_humidity", "SP": "pressure"}


def _of_jrc(frame: pd.DataFrame, place: dict[str, Any], sampling: Sampling, title: str) -> Answer:
    return Answer(
        own_names(frame),
        float(place["latitude"]),
        float(place["longitude"]),
        float(place["elevation"]),
        sampling,
        _JRC_WIND_M,
        title,
    )


def _power(question: Question) -> Answer:
    """Ask for years of hourly means, labelled at their start, a year at a time."""
    first, last = _stated(question)
    answers = [
        asking.in_time(partial(_power_year, question, year)) for year in range(first, last + 1)
    ]
    frame = own_names(pd.concat([each for each, _ in answers]))
    measured = frame.loc[:, frame.notna().any()]
    title = f"Hours of {years_text((first, last))} (satellite and reanalysis)"
    _, meta = answers[-1]
    place = (float(meta["latitude"]), float(meta["longitude"]), float(meta["altitude"]))
    return Answer(measured, *place, Sampling("mean", "start"), _POWER_WIND_M, title)


def _power_year(question: Question, year: int) -> tuple[pd.DataFrame, dict[str, Any]]:
    frame, meta = iotools.get_nasa_power(
        question.latitude,
        question.longitude,
        f"{year}-01-01",
        f"{year}-12-31",
        url=ADDRESSES["nasa-power"],
    )
    return frame, meta


def _nsrdb_typical(question: Question) -> Answer:
    """Ask for a typical year: snapshots at the times written."""
    if question.years is not None:
        refuse("--years", f"years with {question.source}", "no years: it has one typical year")
    frame, meta = iotools.get_nsrdb_psm4_tmy(
        question.latitude,
        question.longitude,
        *credentials(),
        url=ADDRESSES["nsrdb-typical-year"],
        timeout=asking.TIMEOUT_S,
    )
    return _of_nsrdb(frame, meta, "Typical year (physical solar model)")


def _nsrdb_hourly(question: Question) -> Answer:
    """Ask for years of hours: snapshots at the times written, a year at a time."""
    first, last = _stated(question)
    frames, meta = [], {}
    for year in range(first, last + 1):
        frame, meta = iotools.get_nsrdb_psm4_aggregated(
            question.latitude,
            question.longitude,
            *credentials(),
            year=year,
            url=ADDRESSES["nsrdb-hourly"],
            timeout=asking.TIMEOUT_S,
        )
        frames.append(frame)
    return _of_nsrdb(
        pd.concat(frames), meta, f"Hours of {years_text((first, last))} (physical solar model)"
    )


def _of_nsrdb(frame: pd.DataFrame, meta: dict[str, Any], title: str) -> Answer:
    frame = own_names(frame)
    if "pressure" in frame:
        frame = frame.assign(pressure=100.0 * frame["pressure"])
    place = (float(meta["latitude"]), float(meta["longitude"]), float(meta["altitude"]))
    return Answer(frame, *place, Sampling("snapshot", "start", 0.0), _NSRDB_WIND_M, title)


def credentials() -> tuple[str, str]:
    """Return the key and the mail address that NSRDB asks for, from the environment.

    Raises
    ------
    InputError
        If one isn't set.
    """
    found = (os.environ.get(KEY, ""), os.environ.get(MAIL, ""))
    for name, value in zip((KEY, MAIL), found, strict=True):
        if not value:
            refuse(
                f"the environment variable {name}",
                "nothing",
                f"the key in {KEY} and the mail address it was given to in {MAIL}",
                remedy="The service gives keys free of charge; it is not written to any file.",
            )
    return found


def secrets() -> tuple[str, ...]:
    """Return what no message and no file may repeat."""
    return tuple(os.environ[name] for name in (KEY, MAIL) if os.environ.get(name))


def years_text(years: tuple[int, int]) -> str:
    """Return first and last year in words, such as "2018" or "2016-2018"."""
    return "-".join(dict.fromkeys(map(str, years)))


def _stated(question: Question) -> tuple[int, int]:
    if question.years is None:
        refuse("--years", f"no years with {question.source}", "years, such as --years 2018-2020")
    return question.years


SERVICES: dict[str, Service] = {
    "jrc-typical-year": Service(
        "Joint Research Centre, typical year",
        True,
        "European Commission, Joint Research Centre; typical meteorological year from satellite "
        "and reanalysis data, reused with acknowledgement",
        _jrc_typical,
    ),
    "jrc-hourly": Service(
        "Joint Research Centre, hourly years",
        False,
        "European Commission, Joint Research Centre; hourly satellite and reanalysis data, "
        "horizontal plane, reused with acknowledgement",
        _jrc_hourly,
    ),
    "nasa-power": Service(
        "NASA POWER, hourly years",
        False,
        "NASA Langley Research Center, POWER project; hourly satellite and reanalysis data",
        _power,
    ),
    "nsrdb-typical-year": Service(
        "NSRDB, typical year",
        True,
        "US National Solar Radiation Database; typical year from satellite data",
        _nsrdb_typical,
        needs_key=True,
    ),
    "nsrdb-hourly": Service(
        "NSRDB, hourly years",
        False,
        "US National Solar Radiation Database; hourly satellite data",
        _nsrdb_hourly,
        needs_key=True,
    ),
}
"""Sources of weather; words of the command line."""
