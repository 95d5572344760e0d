"""In which period of a tariff each step of the weather lies, by the clock on the wall."""

from __future__ import annotations

from math import gcd
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.time_zones import wall_clock
from yieldkit.config.models.offer import Tariff
from yieldkit.config.relations.tariffs import DAYS, HOURS, MONTHS, cells
from yieldkit.config.site.site import Site

_HOUR_S = 3600
_FINEST_S = 60
ALWAYS = "at all hours"
"""What the only period of a tariff of one price is called."""


class Periods(NamedTuple):
    """Periods of a tariff.

    Parameters
    ----------
    names : tuple of str
        Their names.
    prices : ndarray
        Price of a kilowatt-hour in each (period,).
    zone : str
        Zone of the clock on the wall; empty where one price holds always.
    places : ndarray of int
        Period of each month, day of the week and hour (12, 7, 24).
    """

    names: tuple[str, ...]
    prices: FloatArray
    zone: str
    places: IntArray

    def shares(self, weather: xr.Dataset) -> FloatArray:
        """Return which share of each step lies in each period [1] (time, period).

        Parameters
        ----------
        weather : Dataset
            Canonical weather (time), its clock as it is written.
        """
        steps = weather.sizes["time"]
        if not self.zone:
            return np.ones((steps, 1))
        interval = round(float(weather.attrs["interval_s"]))
        utc = pd.DatetimeIndex(weather.indexes["time"])
        seconds = np.asarray(utc.minute * 60 + utc.second, dtype=np.int64)
        # Clocks on the wall differ from UTC by whole quarters of an hour.
        part = max(gcd(interval, 900, int(np.gcd.reduce(seconds % 900))), _FINEST_S)
        part = interval if interval % part else part
        count = interval // part
        starts = utc.to_numpy()[:, None] + (np.arange(count) * part).astype("timedelta64[s]")
        zone = wall_clock(self.zone, "offer.zone")
        local = pd.DatetimeIndex(starts.ravel()).tz_localize("UTC").tz_convert(zone)
        place = self.places[local.month - 1, local.day_of_week, local.hour].reshape(steps, count)
        each = [(place == number).mean(axis=1) for number in range(len(self.names))]
        return np.stack(each, axis=1)


def periods_of(site: Site, tariff: Tariff | None) -> Periods:
    """Return the periods of a tariff of a site's offer; one of no price where there is none.

    Parameters
    ----------
    site : Site
        The site, for the zone of its clock.
    tariff : Tariff or None
        The tariff.
    """
    places = np.zeros((len(MONTHS), len(DAYS), HOURS), dtype=np.int64)
    if tariff is None or not tariff.periods:
        price = 0.0 if tariff is None else tariff.price_per_kwh or 0.0
        return Periods((ALWAYS,), np.array([price]), "", places)
    for number, period in enumerate(tariff.periods):
        for cell in cells(period.model_dump()):
            places[cell] = number
    own = None if site.offer is None else site.offer.zone
    return Periods(
        tuple(period.name for period in tariff.periods),
        np.array([period.price_per_kwh for period in tariff.periods]),
        own or site.site.time_zone,
        places,
    )
