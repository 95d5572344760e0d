"""A wiring with its strings' datasheet sums, as the checks need them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import pvlib

from yieldkit.config.models.inverters import MpptInput
from yieldkit.config.models.modules import DatasheetModule, ListedModule
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site, WiredString, Wiring
from yieldkit.design.checks.rear_irradiance import per_rear_w_m2, rear_factor, rear_note
from yieldkit.physics.module import datasheet
from yieldkit.physics.module import temperature as heat

_STC_C = 25.0
_HOT_IRRADIANCE = 1000.0
_HOT_WIND_M_S = 1.0


@dataclass(frozen=True)
class ModuleFacts:
    """A module type's figures for the checks; None where unknown.

    Voltages [V], currents [A], coefficients [V/K], power [W].
    """

    name: str
    v_oc: float
    i_sc: float
    v_mp: float
    i_mp: float
    p_max: float
    beta_voc: float | None
    tolerance_percent: float
    tolerance_stated: bool
    excess_percent: float
    fit: datasheet.DiodeFit

    @property
    def most_v_oc(self) -> float:
        """Voc at 25 degC with the stated tolerance and initial excess [V].

        A lower bound of what the cold makes of it, for the coefficient of Voc is negative.
        """
        stated = 1.0 + self.tolerance_percent / 100.0
        return self.v_oc * stated * (1.0 + self.excess_percent / 100.0)

    @property
    def tolerance_note(self) -> str:
        """The tolerance of Voc that counts, in words."""
        return f"{self.tolerance_percent:g} %" + ("" if self.tolerance_stated else " (none stated)")


@dataclass(frozen=True)
class StringFacts:
    """A string with its place and sums at standard test conditions."""

    subject: str
    mppt: MpptInput
    wired: WiredString
    groups: tuple[tuple[int, Plane, ModuleFacts, DatasheetModule | ListedModule], ...]

    @cached_property
    def modules(self) -> int:
        """Modules in series."""
        return sum(count for count, *_ in self.groups)

    @cached_property
    def i_sc(self) -> float:
        """Largest short-circuit current of its modules at STC, light from behind included [A]."""
        return self.i_sc_with()

    def i_sc_with(self, rear_w_m2: float | None = None) -> float:
        """Largest short-circuit current at STC and so much light from behind [A].

        Without an irradiance [W/m2] the planes' own count, see `rear_factor`.
        """
        return max(
            facts.i_sc * rear_factor(module, plane, rear_w_m2)
            for _, plane, facts, module in self.groups
        )

    @cached_property
    def bifacial(self) -> bool:
        """Whether light from behind adds to a module's short-circuit current."""
        return any(per_rear_w_m2(module) > 0.0 for *_, module in self.groups)

    @cached_property
    def rear_note(self) -> str:
        """What light from behind counts, in words; empty where none does."""
        return rear_note(tuple((plane, module) for _, plane, _, module in self.groups))

    @cached_property
    def i_mp(self) -> float:
        """Largest operating current of its modules, rear gain included [A]."""
        return max(
            facts.i_mp * (1.0 + plane.rear_gain_percent / 100.0)
            for _, plane, facts, _ in self.groups
        )

    @cached_property
    def most_v_oc(self) -> float:
        """Sum of its modules' `most_v_oc`: its open-circuit voltage at 25 degC [V]."""
        return sum(count * facts.most_v_oc for count, _, facts, _ in self.groups)

    @cached_property
    def tolerance_note(self) -> str:
        """The tolerance of Voc that counts, by module type where they differ."""
        kinds = {facts.name: facts.tolerance_note for _, _, facts, _ in self.groups}
        if len(set(kinds.values())) == 1:
            return next(iter(kinds.values()))
        return ", ".join(f"{name} {note}" for name, note in kinds.items())

    @cached_property
    def v_mp(self) -> float:
        """Voltage at maximum power at standard test conditions [V]."""
        return sum(count * facts.v_mp for count, _, facts, _ in self.groups)

    def cold_v_oc(self, ambient_c: float | None) -> float:
        """Open-circuit voltage at a cold ambient [V]; nan where it can't be known.

        From the datasheet's Voc and coefficient with tolerance and initial excess; the diode
        under the same conditions is a second opinion, and the larger counts.
        """
        if ambient_c is None:
            return math.nan
        return sum(
            count * cold_module_voltage(facts, plane, ambient_c)
            for count, plane, facts, _ in self.groups
        )

    def v_mp_at(self, ambient_c: float, aged_percent: float = 0.0) -> float:
        """Operating voltage in full sun at an ambient temperature [V]."""
        return sum(
            count * module_voltage_at(facts, plane, ambient_c, "v_mp")
            for count, plane, facts, _ in self.groups
        ) * (1.0 - aged_percent / 100.0)

    def v_oc_at(self, ambient_c: float) -> float:
        """Open-circuit voltage in full sun with hot cells [V]."""
        return sum(
            count * module_voltage_at(facts, plane, ambient_c, "v_oc")
            for count, plane, facts, _ in self.groups
        )


def cold_module_voltage(facts: ModuleFacts, plane: Plane, ambient_c: float) -> float:
    """Return a module's largest open-circuit voltage at a cold ambient [V]."""
    if facts.beta_voc is None:
        return math.nan
    linear = facts.v_oc + facts.beta_voc * (ambient_c - _STC_C)
    rear = 1.0 + plane.rear_gain_percent / 100.0
    by_diode = (
        facts.v_oc
        * _diode_point(facts.fit, 1000.0 * rear, ambient_c, "v_oc")
        / (_diode_point(facts.fit, 1000.0, _STC_C, "v_oc"))
    )
    return max(linear, by_diode) * facts.most_v_oc / facts.v_oc


def module_voltage_at(facts: ModuleFacts, plane: Plane, ambient_c: float, which: str) -> float:
    """Return a module's Vmp or Voc in full sun with the cells its mounting makes [V]."""
    temp_cell = heat.cell_temperature(
        plane.mounting,
        np.array([_HOT_IRRADIANCE]),
        np.array([ambient_c]),
        np.array([_HOT_WIND_M_S]),
        heat.mounting_model(plane.mounting).wind_height_m,
    )[0]
    ratio = _diode_point(facts.fit, 1000.0, float(temp_cell), which) / _diode_point(
        facts.fit, 1000.0, _STC_C, which
    )
    return (facts.v_mp if which == "v_mp" else facts.v_oc) * ratio


@lru_cache(maxsize=4096)
def _diode_point(fit: datasheet.DiodeFit, irradiance: float, temp_cell: float, which: str) -> float:
    parameters = datasheet.diode_parameters(fit, np.array([irradiance]), np.array([temp_cell]))
    return float(pvlib.pvsystem.singlediode(*(float(part[0]) for part in parameters))[which])


def module_facts(module: DatasheetModule | ListedModule, fit: datasheet.DiodeFit) -> ModuleFacts:
    """Return a module type's figures for the checks."""
    tolerance = module.v_oc_tolerance_percent
    if isinstance(module, DatasheetModule):
        return ModuleFacts(
            name=module.name,
            v_oc=module.v_oc_v,
            i_sc=module.i_sc_a,
            v_mp=module.v_mp_v,
            i_mp=module.i_mp_a,
            p_max=module.p_max_w,
            beta_voc=module.beta_voc_v_per_k,
            tolerance_percent=tolerance or 0.0,
            tolerance_stated=tolerance is not None,
            excess_percent=module.initial_v_oc_excess_percent or 0.0,
            fit=fit,
        )
    row = datasheet.cec_figures(module.row)
    return ModuleFacts(
        name=module.name,
        v_oc=row["v_oc"],
        i_sc=row["i_sc"],
        v_mp=row["v_mp"],
        i_mp=row["i_mp"],
        p_max=row["p_max"],
        beta_voc=row["beta_voc"],
        tolerance_percent=tolerance or 0.0,
        tolerance_stated=tolerance is not None,
        excess_percent=0.0,
        fit=fit,
    )


def string_facts(
    site: Site, wiring: Wiring, facts: dict[str, ModuleFacts]
) -> tuple[StringFacts, ...]:
    """Return the strings of a wiring with what the checks need of each."""
    planes = {plane.name: plane for plane in site.planes}
    types = {module.name: module for module in site.module_types}
    mppts = {mppt.name: mppt for mppt in site.single_inverter.mppts}
    found = []
    for tracker in wiring.trackers:
        for number, string in enumerate(tracker.strings, start=1):
            groups = tuple(
                (
                    group.modules,
                    planes[group.plane],
                    facts[planes[group.plane].module_type],
                    types[planes[group.plane].module_type],
                )
                for group in string.groups
            )
            subject = f"{tracker.mppt}, string {number}"
            found.append(StringFacts(subject, mppts[tracker.mppt], string, groups))
    return tuple(found)
