"""A month of minutes from a CSV file, against the slow reader that guesses its separator."""

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

from benchmarks.timing import best_of, best_of_pair
from yieldkit.weather.readers.read import read_weather
from yieldkit.weather.readers.source import Source
from yieldkit.weather.readers.tables import csv_table

COLUMNS = ("time", "ghi", "dni", "dhi", "temp_air", "wind_speed")
SAID = Source(
    columns={name: name for name in COLUMNS},
    zone="UTC",
    sampling="mean",
    label="start",
    latitude=45.0,
    longitude=8.0,
    altitude_m=200.0,
)


def write_month(path: Path) -> None:
    """Write a month of minutes with a plain course of the sun."""
    times = pd.date_range("2019-06-01", periods=30 * 1440, freq="min")
    height = np.clip(-np.cos(2.0 * np.pi * (np.arange(times.size) % 1440) / 1440.0), 0.0, None)
    table = pd.DataFrame({"time": times.strftime("%Y-%m-%d %H:%M"), "ghi": 900.0 * height})
    table["dni"] = np.where(height > 0.0, 765.0, 0.0)
    table["dhi"] = 135.0 * height
    table["temp_air"] = 15.0 + 10.0 * height
    table.assign(wind_speed=2.0).round(2).to_csv(path, index=False)


def read_slowly(path: Path) -> pd.DataFrame:
    """Read a table as it was done at first: a separator guessed by the slow reader, dates too."""
    raw = pd.read_csv(path, sep=None, engine="python", encoding="utf-8-sig", comment="#")
    return raw.set_axis(pd.DatetimeIndex(pd.to_datetime(raw["time"])), axis="index")


def run() -> dict[str, float]:
    """Return the time of a month of minutes, and how much faster it is than the slow reader."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "month.csv"
        write_month(path)
        whole = best_of(lambda: read_weather(path, "csv", SAID), 3)
        names = dict(SAID.columns or {})
        table, slow = best_of_pair(
            lambda: csv_table(path, SAID, names), lambda: read_slowly(path), 3
        )
    return {"minute_month_weather_s": whole, "minute_month_table_speedup": slow / table}
