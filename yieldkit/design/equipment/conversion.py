"""An inverter's efficiency entry turned into conversion losses."""

from __future__ import annotations

import numpy as np

from yieldkit.config.models.inverters import EfficiencyTable, Inverter, WeightedEfficiency
from yieldkit.physics.ac.conversion_curves import (
    ConversionCurve,
    ListedConversion,
    curve_from_list_row,
    curve_from_table,
    curve_from_weighted,
)


def conversion_curve(chosen: Inverter) -> ConversionCurve | ListedConversion:
    """Return the conversion losses that an inverter's efficiency entry means."""
    entry = chosen.efficiency
    nominal = chosen.ac.nominal_power_w
    if isinstance(entry, EfficiencyTable):
        return curve_from_table(
            np.array(entry.loads), np.array(entry.voltages_v), np.array(entry.values), nominal
        )
    if isinstance(entry, WeightedEfficiency):
        return curve_from_weighted(
            entry.european,
            entry.cec,
            entry.maximum,
            entry.load_at_maximum,
            nominal,
            entry.voltage_v,
        )
    return curve_from_list_row(entry.row)


def states_voltages(chosen: Inverter) -> bool:
    """Tell whether the efficiencies are a table of several DC voltages."""
    entry = chosen.efficiency
    return isinstance(entry, EfficiencyTable) and len(entry.voltages_v) > 1


def tracking_span(chosen: Inverter) -> tuple[float, float]:
    """Return the lowest and highest voltage at which any input tracks [V]."""
    return (
        min(mppt.mpp_voltage_min_v for mppt in chosen.mppts),
        max(mppt.mpp_voltage_max_v for mppt in chosen.mppts),
    )
