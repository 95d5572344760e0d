"""A sheet's readings of strings as the judge takes them."""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np
import pandas as pd

from yieldkit.base.arrays import IntArray
from yieldkit.config.site.site import Site
from yieldkit.study.handover import reference_errors as errors
from yieldkit.study.handover.beside_expected import QUANTITIES
from yieldkit.study.handover.meter import CURRENT, MeterReadings, surroundings
from yieldkit.study.handover.module_tables import module_table
from yieldkit.study.handover.reading import Reading, Readings
from yieldkit.study.handover.slips import Drawn, all_slips
from yieldkit.study.handover.string_model import StringModel, spreads_of


def meter_readings(
    told: list[Reading], names: tuple[str, ...], reversed_strings: Collection[str] = ()
) -> MeterReadings:
    """Return readings of strings as arrays.

    Parameters
    ----------
    told : list of Reading
        Voltages and currents of strings, each with its moment.
    names : tuple of str
        Names of the strings.
    reversed_strings : collection of str
        Strings whose polarity was found reversed: their voltage is one with a minus.
    """
    signs = [-1.0 if each.subject in reversed_strings else 1.0 for each in told]
    values = [
        abs(each.value) * sign if each.quantity == "i_sc" or sign < 0.0 else each.value
        for each, sign in zip(told, signs, strict=True)
    ]
    return MeterReadings(
        np.array([names.index(each.subject) for each in told]),
        np.array([QUANTITIES.index(each.quantity) for each in told]),
        np.array(values),
        pd.DatetimeIndex([each.moment for each in told]),
        np.array([each.poa_global for each in told]),
        np.array([each.temp_module for each in told]),
    )


def string_model(
    site: Site,
    drawn: Drawn,
    planes: IntArray,
    readings: MeterReadings,
    spreads: dict[str, float] | None = None,
) -> StringModel:
    """Return readings as functions of what is unknown, under every slip.

    Parameters
    ----------
    site : Site
        The site.
    drawn : Drawn
        The wiring.
    planes : ndarray of int
        The plane in which light is read with each string (string,).
    readings : MeterReadings
        The readings.
    spreads : dict, optional
        What instruments state of themselves, by the keys of `REFERENCE_ERRORS`.
    """
    words = ("open-circuit voltage", "short-circuit current")
    labels = [
        f"the {words[quantity]} of {drawn.strings[string]}"
        for string, quantity in zip(readings.string, readings.quantity, strict=True)
    ]
    # A clamp tells no plus from minus: only voltages have a sign.
    size = np.where(readings.quantity == CURRENT, np.abs(readings.value), readings.value)
    readings = readings._replace(value=size)
    slips = all_slips(drawn, labels, bool((~np.isnan(readings.poa_global)).any()))
    around = surroundings(site, planes, readings, slips)
    tables = tuple(module_table(site, plane) for plane in site.planes)
    return StringModel(site, slips, readings, around, tables, spreads_of(spreads))


def stated(readings: Readings) -> dict[str, float]:
    """Return what a sheet's instruments state of their errors, by the keys of the table.

    Parameters
    ----------
    readings : Readings
        The sheet.
    """
    found = {}
    for kind, gain, single in (
        ("voltmeter", errors.METER_V, errors.READING_V),
        ("ammeter", errors.METER_A, errors.READING_A),
        ("irradiance", errors.SENSOR_LIGHT, None),
        ("temperature", errors.SENSOR_HEAT, None),
    ):
        own = readings.instrument(kind)
        if not math.isnan(own.gain):
            found[gain] = own.gain
        if single is not None and not math.isnan(own.reading):
            found[single] = own.reading
    return found
