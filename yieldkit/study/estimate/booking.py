"""What passes the meter, booked by the periods of two tariffs."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.config.site.site import Site
from yieldkit.study.estimate.runs import Metered, by_month
from yieldkit.study.estimate.tariff_hours import Periods, periods_of
from yieldkit.study.simulation.soiling import months


class Booking(NamedTuple):
    """How what passes the meter is booked.

    Parameters
    ----------
    purchase : Periods
        Of the price of power from the network, which self-use saves.
    feed_in : Periods
        Of the price of power fed in.
    """

    purchase: Periods
    feed_in: Periods

    def row(self, weather: xr.Dataset, meter: Metered) -> FloatArray:
        """Return months of energy, then sums of self-use and of export by period [kWh].

        Parameters
        ----------
        weather : Dataset
            Canonical weather (time), its clock as it is written.
        meter : Metered
            What passes the meter.
        """
        return np.concatenate(
            [
                by_month(weather, meter.power),
                month_sums(weather, meter.self_use, self.purchase).sum(axis=0),
                month_sums(weather, meter.export, self.feed_in).sum(axis=0),
            ]
        )


def booking_of(site: Site) -> Booking | None:
    """Return how what passes a site's meter is booked; None without a load and without prices.

    Parameters
    ----------
    site : Site
        The site.
    """
    offer = site.offer
    priced = offer is not None and offer.outlay is not None
    if not (priced or has_load(site)):
        return None
    return Booking(
        periods_of(site, None if offer is None else offer.purchase),
        periods_of(site, None if offer is None else offer.feed_in),
    )


def has_load(site: Site) -> bool:
    """Return whether a site states what its building consumes."""
    return site.grid.load is not None or site.grid.load_w > 0.0


def month_sums(weather: xr.Dataset, power: FloatArray, periods: Periods) -> FloatArray:
    """Return energies by calendar month and period [kWh] (12, period).

    Parameters
    ----------
    weather : Dataset
        Canonical weather (time), its clock as it is written.
    power : ndarray
        [W] (time,); nan counts as none.
    periods : Periods
        The periods.
    """
    hours = float(weather.attrs["interval_s"]) / 3600.0
    energy = np.nan_to_num(power)[:, None] * periods.shares(weather) * hours / 1000.0
    found = np.zeros((12, len(periods.names)))
    np.add.at(found, months(weather), energy)
    return found
