"""What conductors may carry: tabulated ampacity, heat around them, and neighbours."""

from __future__ import annotations

import math
from functools import cache
from typing import NamedTuple

from yieldkit.config.models.conductors import AcLead, Cable
from yieldkit.design.standards import standard_table

_ALUMINIUM_AMPACITY = 0.78
"""Aluminium PV cable carries about 0.78 of copper's current; common practice, no source."""
ASSUMED_LAYING = "free-in-air"
"""Laying of a string cable where the file is silent; common practice, no source."""
ASSUMED_AMBIENT_C = 70.0
"""Air around a string cable where the file is silent: below modules at least 70 degC,
IEC 60364-7-712:2017, 712.523.101; from memory."""
ASSUMED_CIRCUITS = 6
"""Strings bunched where the file is silent; common practice, no source."""
_MOST_ASSUMED_CIRCUITS = 20
_BURIED = ("D1", "D2")


class CableAmpacity(NamedTuple):
    """What a string cable may carry.

    Parameters
    ----------
    base_a : float
        Tabulated, conductors in parallel counted [A]; nan where no table says it.
    factor : float
        For ambient temperature and bunching [1]; nan where no table says it.
    words : str
        Laying, ambient and bunching, each with "assumed" where the file is silent.
    """

    base_a: float
    factor: float
    words: str

    @property
    def amperes(self) -> float:
        """Ampacity with its corrections, Iz [A]."""
        return self.base_a * self.factor


@cache
def ampacity_base(
    insulation: str, loaded: int, method: str, cross_section_mm2: float, material: str = "copper"
) -> float:
    """Return the tabulated ampacity of a conductor [A]; nan where the table is silent.

    References
    ----------
    IEC 60364-5-52 annex B; EN 50618 and IEC 62930 for PV cables.
    """
    table = standard_table("ampacity")
    column = f"{cross_section_mm2:g}"
    if column not in table.columns:
        return math.nan
    rows = table[
        (table["material"] == material)
        & (table["insulation"] == insulation)
        & (table["loaded"] == loaded)
        & (table["method"] == method)
    ]
    known = rows[column].dropna()
    return math.nan if known.empty else float(known.iloc[0])


@cache
def ambient_factor(insulation: str, temp_ambient_c: float, *, buried: bool = False) -> float:
    """Return the ampacity's factor for the ambient temperature; nan above the table.

    Below the table's first temperature its factor is 1, which is on the safe side. Between
    two temperatures the higher one counts. The ground's table begins at 20 degC, the air's at 30.
    """
    table = standard_table("ampacity_factors")
    kind = "ground" if buried else "ambient"
    rows = table[(table["kind"] == kind) & (table["insulation"] == insulation)]
    higher = rows[rows["at"] >= temp_ambient_c - 1e-9]
    return float(higher["factor"].iloc[0]) if not higher.empty else math.nan


@cache
def bunching_factor(circuits: int, method: str = "") -> float:
    """Return the ampacity's factor for circuits laid together; nan above the table.

    Between two rows the larger number of circuits counts. Buried methods have rows of their own.
    """
    table = standard_table("ampacity_factors")
    kind = f"bunched-{method}" if method in _BURIED else "bunched"
    rows = table[(table["kind"] == kind) & (table["at"] >= circuits)]
    return float(rows["factor"].iloc[0]) if not rows.empty else math.nan


def lead_ampacity(lead: AcLead, phases: int) -> float:
    """Return the AC lead's ampacity with its corrections [A]; nan where no table says it."""
    loaded = 3 if phases == 3 else 2
    method = lead.installation_method
    base = ampacity_base(lead.insulation, loaded, method, lead.cross_section_mm2, lead.material)
    factor = ambient_factor(lead.insulation, lead.temp_ambient_c, buried=method in _BURIED)
    together = bunching_factor(lead.circuits_bunched, method)
    return lead.conductors_in_parallel * base * factor * together


def string_cable_ampacity(cable: Cable, on_input: int) -> CableAmpacity:
    """Return what a string cable may carry, with what had to be assumed.

    Parameters
    ----------
    cable : Cable
        The cable; where laying, ambient or bunching is left out, the assumed one counts.
    on_input : int
        Strings on the cable's input, which run together at least.

    References
    ----------
    EN 50618 tables A.3 and A.4 (IEC 62930); IEC 60364-5-52 table B.52.17 for bunching.
    """
    method = cable.laying_method or ASSUMED_LAYING
    ambient = ASSUMED_AMBIENT_C if cable.temp_ambient_c is None else cable.temp_ambient_c
    assumed = min(max(ASSUMED_CIRCUITS, on_input), _MOST_ASSUMED_CIRCUITS)
    circuits = cable.circuits_bunched or assumed
    metal = 1.0 if cable.material == "copper" else _ALUMINIUM_AMPACITY
    base = metal * ampacity_base("pv-cable", 2, method, cable.cross_section_mm2)
    words = ", ".join(
        (
            f"{method.replace('-', ' ')}{_assumed(cable.laying_method)}",
            f"{ambient:g} degC around it{_assumed(cable.temp_ambient_c)}",
            f"{circuits} bunched{_assumed(cable.circuits_bunched)}",
        )
    )
    factor = ambient_factor("pv-cable", ambient) * bunching_factor(circuits)
    return CableAmpacity(cable.conductors_in_parallel * base, factor, words)


def _assumed(stated: object) -> str:
    return " (assumed)" if stated is None else ""
