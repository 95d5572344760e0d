"""What each inverter could give inside its own limits, whatever the connection point takes."""

from __future__ import annotations

from collections.abc import Hashable
from functools import partial
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.models.inverters import Inverter
from yieldkit.config.site.site import Site
from yieldkit.design.checks.altitude import altitude_factor
from yieldkit.design.checks.mounting import inlet_offset_k
from yieldkit.physics.ac import derating
from yieldkit.physics.ac.conversion import ac_power
from yieldkit.physics.module import temperature as heat
from yieldkit.study.simulation.dc_side import DirectSide
from yieldkit.study.simulation.kept import Keep, anew, fingerprint
from yieldkit.study.simulation.prepare import Prepared


class Offer(NamedTuple):
    """What each inverter could give, (time, inverter) unless said otherwise.

    Parameters
    ----------
    dc : ndarray
        Power of all trackers' free points [W] (time,).
    converted : ndarray
        AC power of the trackers' free points [W].
    rated : ndarray
        Largest active power (inverter,) [W].
    derated : ndarray
        Largest power at its inlet temperature [W].
    drawn : ndarray
        Own consumption [W].
    temp_inlet : ndarray
        [degC].
    clamped : ndarray of bool
        Whether a voltage lies outside the efficiencies.
    """

    dc: FloatArray
    converted: FloatArray
    rated: FloatArray
    derated: FloatArray
    drawn: FloatArray
    temp_inlet: FloatArray
    clamped: BoolArray

    @property
    def power(self) -> FloatArray:
        """What is left inside maximum power and derating [W]."""
        least: FloatArray = np.minimum(np.minimum(self.converted, self.rated), self.derated)
        return least


def offers(each: tuple[Prepared, ...], directs: tuple[DirectSide, ...], keep: Keep = anew) -> Offer:
    """Return what each inverter could give.

    Parameters
    ----------
    each : tuple of Prepared
        Site and weather as they stand to each inverter alone.
    directs : tuple of DirectSide
        The solved trackers of each.
    keep : Keep
        Knows what other runs have made already.
    """
    rows = [
        keep(partial(_content, own.site, direct), partial(_row, own, direct))
        for own, direct in zip(each, directs, strict=True)
    ]
    converted_power, rated, *others = zip(*rows, strict=True)
    return Offer(
        np.sum([direct.free.p_dc.sum(axis=1) for direct in directs], axis=0),
        np.column_stack(converted_power),
        np.array(rated),
        *(np.column_stack(each_own) for each_own in others),
    )


def _content(site: Site, direct: DirectSide) -> Hashable:
    """Return all that an inverter's offer depends on: nothing of the network beyond it."""
    own = site.model_dump_json(exclude={"grid", "wirings"})
    return "offer", direct.content, fingerprint(own)


def _row(
    own: Prepared, direct: DirectSide
) -> tuple[FloatArray, float, FloatArray, FloatArray, FloatArray, BoolArray]:
    """Return an inverter's column of each part of an `Offer` behind `dc`."""
    chosen, free = own.site.single_inverter, direct.free
    converted = ac_power(own.conversion, free.p_dc, free.v_dc)
    inlet = heat.inlet_temperature(
        own.weather.variables["temp_air"].to_numpy(), inlet_offset_k(own.site)[0]
    )
    return (
        np.where(own.present, converted.p_ac, np.nan),
        chosen.ac.max_power_w or chosen.ac.nominal_power_w,
        derated_power(own.site, free.v_dc.max(axis=1, initial=0.0), inlet),
        _own_consumption(chosen, free.p_dc),
        inlet,
        converted.clamped,
    )


def derated_power(site: Site, highest_v: FloatArray, temp_inlet: FloatArray) -> FloatArray:
    """Return the largest AC power that heat and thin air leave [W] (time,).

    Parameters
    ----------
    site : Site
        A site of one inverter.
    highest_v : ndarray
        Highest DC voltage of the inputs [V] (time,).
    temp_inlet : ndarray
        Inlet air [degC] (time,).
    """
    chosen = site.single_inverter
    table = np.array(
        [
            (
                point.temp_inlet_c,
                np.nan if point.dc_voltage_v is None else point.dc_voltage_v,
                point.max_power_w,
            )
            for point in chosen.derating
        ]
    ).reshape(-1, 3)
    return derating.derated_power(
        temp_inlet, highest_v, table, chosen.ac.nominal_power_w, altitude_factor(site)
    )


def _own_consumption(chosen: Inverter, p_dc: FloatArray) -> FloatArray:
    """Power the inverter draws that its efficiencies don't contain, once per inverter [W]."""
    night = p_dc.sum(axis=1) <= 0.0
    return np.where(night, chosen.night_power_w, 0.0) + chosen.auxiliary_power_w
