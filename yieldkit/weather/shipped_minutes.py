"""Measured minutes that come with the package, without their units."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.weather.within_hour import MinuteLibrary, Spot, minute_library

SHIPPED_MINUTES = "payerne-june-2016"
"""The set that is drawn from where no other file is named."""
_MAGIC = "# measured minutes without units: "
_PER_THOUSAND = 1000.0
_FILE = Path(__file__).parent / "minutes" / f"{SHIPPED_MINUTES}.csv"


def are_minutes_shipped() -> bool:
    """Return whether the minutes are there: who can't keep their terms takes the file away."""
    return _FILE.is_file()


@lru_cache(maxsize=1)
def shipped_minutes() -> MinuteLibrary:
    """Return the measured minutes that come with the package.

    They are kept as what the air lets through of the beam, and as diffuse over extraterrestrial
    light on the horizontal, in thousandths; `README.md` beside them has whose they are and on which
    terms.
    """
    with _FILE.open(encoding="utf-8") as stream:
        facts = json.loads(stream.readline()[len(_MAGIC) :])
        table = pd.read_csv(stream, index_col="hour", parse_dates=["hour"])
    hours = pd.date_range(table.index[0], table.index[-1], freq="h")
    table = table.reindex(hours)
    beam, diffuse = (_minutes(table[name]) for name in ("beam", "diffuse"))
    begins = hours.as_unit("ns").asi8[:, None] + np.arange(60) * 60_000_000_000
    begins = begins.ravel()
    spot = Spot(facts["latitude"], facts["longitude"], facts["altitude_m"])
    middle = pd.DatetimeIndex((begins + 30_000_000_000).view("datetime64[ns]"))
    sun = sun_position(middle.tz_localize("UTC"), *spot)
    height = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    dni, dhi = beam * sun.dni_extra, diffuse * sun.dni_extra * height
    return minute_library(begins, dni, dhi, spot, facts["title"], facts["attribution"])


def _minutes(column: pd.Series) -> FloatArray:
    """Return the minutes of successive hours, nan where they are missing (minute,)."""
    rows = [
        [np.nan] * 60
        if not isinstance(text, str)
        else [np.nan if word == "-" else int(word) / _PER_THOUSAND for word in text.split(" ")]
        for text in column
    ]
    return np.array(rows, dtype=float).ravel()
