"""A clear year at one-minute steps from the library's clear-sky model, and tables made of it."""

from functools import cache

import numpy as np
import pandas as pd
from pvlib.clearsky import haurwitz
from pvlib.solarposition import get_solarposition

from yieldkit.weather.readers.canonical import Sampling, Station, from_frame

PLACE = Station(45.0, 8.0, 200.0, 3600, 10.0)


@cache
def minutes(first="2019-06-01", days=20, step_min=1):
    """Return irradiances at the middle of every short step, index in UTC at its start."""
    step = pd.Timedelta(minutes=step_min)
    starts = pd.date_range(first, periods=int(days * 1440 / step_min), freq=step, tz="UTC")
    middle = starts + step / 2
    zenith = get_solarposition(middle, PLACE.latitude, PLACE.longitude, PLACE.altitude_m)["zenith"]
    sky = haurwitz(zenith)
    # A plain split that closes at every instant.
    cosine = np.cos(np.radians(zenith)).clip(lower=0.0)
    dhi = 0.15 * sky["ghi"]
    dni = np.where(cosine > 0.02, (sky["ghi"] - dhi) / np.maximum(cosine, 0.02), 0.0)
    frame = pd.DataFrame({"ghi": dhi + dni * cosine, "dni": dni, "dhi": dhi})
    frame["temp_air"] = 20.0
    frame["wind_speed"] = 2.0
    return frame.set_axis(starts, axis="index")


def averaged(step="60min", label="start", base=None):
    """Return means over a step in a Dataset, labelled at the start, the middle or the end."""
    means = (minutes() if base is None else base).resample(step).mean()
    shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[label] * pd.Timedelta(step)
    table = means.set_axis(means.index + shift, axis="index")
    return from_frame(table, PLACE, Sampling("mean", label))


def snapshots(base, place):
    """Return hourly snapshots in a Dataset: the values of one five-minute step of each hour."""
    table = base.iloc[place::12]
    hours = table.set_axis(table.index - pd.Timedelta(minutes=5 * place), axis="index")
    return from_frame(hours, PLACE, Sampling("snapshot", "start", 300.0 * place + 150.0))
