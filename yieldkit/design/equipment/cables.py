"""Conductors: resistance, voltage change and losses of DC strings and AC leads."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import refuse
from yieldkit.config.models.conductors import AcLead, Cable
from yieldkit.design.equipment.ampacity import lead_ampacity
from yieldkit.design.standards import standard_table
from yieldkit.physics.ac.network import lead_loop

_TEMPERATURE_COEFFICIENT = {"copper": 0.00393, "aluminium": 0.00403}
"""Per kelvin at 20 degC, IEC 60228 annex; read."""
REACTANCE_OHM_PER_M = 0.08e-3
"""Reactance of one conductor, IEC 60364-5-52 annex G; from memory."""


@cache
def resistance_per_m(
    cross_section_mm2: float, material: str, conductor_class: str, temp_conductor_c: float
) -> float:
    """Return the DC resistance of a conductor.

    Parameters
    ----------
    cross_section_mm2 : float
        Nominal cross-section [mm2].
    material, conductor_class : str
        As in IEC 60228.
    temp_conductor_c : float
        Conductor temperature [degC].

    Returns
    -------
    float
        [ohm/m].

    Raises
    ------
    InputError
        If the table has no such conductor; the sections it has are named.

    References
    ----------
    IEC 60228 tables 2 and 3; R(T) = R20 (1 + alpha (T - 20)).
    """
    table = standard_table("conductors")
    rows = table[(table["material"] == material) & (table["conductor_class"] == conductor_class)]
    match = rows[rows["cross_section_mm2"] == cross_section_mm2]
    if match.empty:
        refuse(
            f"conductor of {material}, {conductor_class}",
            f"{cross_section_mm2:g} mm2",
            "a nominal cross-section of IEC 60228: "
            + ", ".join(f"{value:g}" for value in rows["cross_section_mm2"]),
        )
    warm = 1.0 + _TEMPERATURE_COEFFICIENT[material] * (temp_conductor_c - 20.0)
    return float(match["resistance_20c_ohm_per_km"].iloc[0]) / 1000.0 * warm


def string_resistance(cable: Cable) -> float:
    """Return the resistance of a string cable out and back, conductors in parallel [ohm]."""
    per_m = resistance_per_m(
        cable.cross_section_mm2, cable.material, cable.conductor_class, cable.temp_conductor_c
    )
    return 2.0 * cable.length_m * per_m / cable.conductors_in_parallel


def ac_lead_impedance(lead: AcLead, phases: int) -> tuple[float, float]:
    """Return resistance and reactance that a phase's current meets in the AC lead [ohm]."""
    per_m = lead_per_m(lead)
    return lead_loop(*per_m, lead.length_m, phases)


def lead_per_m(lead: AcLead) -> tuple[float, float]:
    """Return resistance and reactance of one phase's conductors in parallel [ohm/m]."""
    single = resistance_per_m(
        lead.cross_section_mm2, lead.material, lead.conductor_class, lead.temp_conductor_c
    )
    return (
        single / lead.conductors_in_parallel,
        REACTANCE_OHM_PER_M / lead.conductors_in_parallel,
    )


def voltage_change(
    current_a: float,
    resistance_per_m_ohm: float,
    reactance_per_m_ohm: float,
    length_m: float,
    phases: int,
    power_factor: float = 1.0,
) -> float:
    """Return the voltage change along a cable.

    Parameters
    ----------
    current_a : float
        [A].
    resistance_per_m_ohm, reactance_per_m_ohm : float
        Of one conductor [ohm/m].
    length_m : float
        One way [m].
    phases : int
        1 (also DC): change between the two conductors; 3: between two phases.
    power_factor : float
        Cosine phi, the reactance adding to the change [1].

    Returns
    -------
    float
        [V].

    References
    ----------
    IEC 60364-5-52 annex G: 2 I L (R cos + X sin), three-phase with sqrt 3 instead of 2.
    """
    paths = math.sqrt(3.0) if phases == 3 else 2.0
    sine = math.sqrt(max(1.0 - power_factor**2, 0.0))
    per_m = resistance_per_m_ohm * power_factor + reactance_per_m_ohm * sine
    return paths * current_a * length_m * per_m


def cable_loss(
    current_a: float, resistance_per_m_ohm: float, length_m: float, phases: int
) -> float:
    """Return a cable's heat: 2 I2 R L for DC and single-phase, 3 I2 R L for three-phase [W]."""
    return (3 if phases == 3 else 2) * current_a**2 * resistance_per_m_ohm * length_m


def cross_sections(material: str, conductor_class: str) -> tuple[float, ...]:
    """Return the nominal cross-sections the table has for a conductor [mm2]."""
    table = standard_table("conductors")
    rows = table[(table["material"] == material) & (table["conductor_class"] == conductor_class)]
    return tuple(float(value) for value in rows["cross_section_mm2"])


def ac_lead_table(
    lead: AcLead,
    phases: int,
    nominal_v: float,
    current_a: float,
    power_factor: float = 1.0,
    hourly_current_a: FloatArray | None = None,
    step_h: float = 1.0,
    largest_percent: float = 3.0,
) -> pd.DataFrame:
    """Return what each cross-section means for the AC lead at hand.

    Parameters
    ----------
    lead : AcLead
        The lead; its own cross-section is one row.
    phases : int
        1 or 3.
    nominal_v : float
        Phase to neutral [V].
    current_a : float
        Largest continuous current of a phase [A].
    power_factor : float
        [1].
    hourly_current_a : ndarray, optional
        Current of a phase at every step [A], for the loss over them.
    step_h : float
        Length of a step [h].
    largest_percent : float
        Largest voltage change accepted [%].

    Returns
    -------
    DataFrame
        Per cross-section: volts, percent, watts, kWh over those steps (nan without hourly
        currents), ampacity, verdict, and the smallest one that does.
    """
    rows = []
    across = nominal_v * (math.sqrt(3.0) if phases == 3 else 1.0)
    for section in cross_sections(lead.material, lead.conductor_class):
        option = AcLead.model_validate(lead.model_dump() | {"cross_section_mm2": section})
        per_m, reactance = lead_per_m(option)
        volts = voltage_change(current_a, per_m, reactance, lead.length_m, phases, power_factor)
        energy = math.nan
        if hourly_current_a is not None:
            squares = float(np.sum(hourly_current_a**2))
            energy = cable_loss(1.0, per_m, lead.length_m, phases) * squares * step_h / 1000.0
        ampacity = lead_ampacity(option, phases)
        rows.append(
            {
                "cross_section_mm2": section,
                "volts": volts,
                "percent": 100.0 * volts / across,
                "watts": cable_loss(current_a, per_m, lead.length_m, phases),
                "kwh": energy,
                "ampacity_a": ampacity,
                "verdict": _section_verdict(ampacity, current_a, lead.overcurrent_device_a),
                "drawn": section == lead.cross_section_mm2,
            }
        )
    table = pd.DataFrame(rows)
    does = (table["verdict"] == "passes") & (table["percent"] <= largest_percent)
    table["smallest_that_does"] = does & ~does.shift(1, fill_value=False).cummax()
    return table


def _section_verdict(ampacity: float, current_a: float, device_a: float | None) -> str:
    if math.isnan(ampacity):
        return "NOT CHECKED"
    return "passes" if ampacity >= max(current_a, device_a or 0.0) else "not permitted"
