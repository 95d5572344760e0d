"""The array's capacitive leakage current, which may trip residual current monitoring."""

from __future__ import annotations

import math

from yieldkit.config.models.modules import DatasheetModule, ListedModule
from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    Finding,
    at_most,
    not_applicable,
    not_checked,
)
from yieldkit.design.checks.rules import Rule, inspection_rule
from yieldkit.design.checks.wired import StringFacts
from yieldkit.physics.module.datasheet import cec_is_crystalline

_CHECK = "leakage current by array size"


def leakage(site: Site, strings: tuple[StringFacts, ...]) -> Finding:
    """Estimate the capacitive leakage of wet modules against the inverter's continuous limit.

    I = 2 pi f C U, where C is the array's capacitance to earth and U the part of the network's
    voltage that the inverter's topology puts on the array. More trips the monitoring: it costs
    yield and forbids nothing.
    """
    topology, ac = site.single_inverter.topology, site.single_inverter.ac
    if topology is None:
        return not_checked(_CHECK, "array", "The inverter's topology")
    share = _rule(f"leakage_voltage_{topology}")
    if share.value == 0.0:
        return not_applicable(_CHECK, "array", "A transformer keeps it inside.", share.text)
    nanofarads, sources = 0.0, dict[str, None]()
    for string in strings:
        for count, _, facts, module in string.groups:
            per_kwp, source = _capacitance(module)
            nanofarads += per_kwp * count * facts.p_max / 1000.0
            sources[source] = None
    omega = 2.0 * math.pi * ac.nominal_frequency_hz
    estimate = omega * nanofarads * 1e-9 * share.value * ac.nominal_voltage_v * 1000.0
    least, per_kva = _rule("leakage_limit"), _rule("leakage_limit_per_kva")
    rated = (ac.max_apparent_power_va or ac.max_power_w or ac.nominal_power_w) / 1000.0
    return at_most(
        _CHECK,
        "array",
        estimate,
        max(least.value, per_kva.value * rated),
        "mA",
        f"{'; '.join(sources)}; {share.value:g} of the phase voltage: {share.text}; limit the "
        f"larger of {least.value:g} mA and {per_kva.value:g} mA/kVA: {least.text}",
        missing="",
        advice="Expect the monitoring to trip in the wet.",
        over=COSTS_YIELD,
    )


def _capacitance(module: DatasheetModule | ListedModule) -> tuple[float, str]:
    """Return a module type's capacitance to earth [nF/kWp], and where it comes from."""
    if module.capacitance_nf_per_kwp is not None:
        return module.capacitance_nf_per_kwp, f"{module.capacitance_nf_per_kwp:g} nF/kWp as stated"
    crystalline = (
        module.technology in ("mono-si", "poly-si")
        if isinstance(module, DatasheetModule)
        else cec_is_crystalline(module.row)
    )
    found = _rule(f"leakage_capacitance_{'crystalline' if crystalline else 'thin-film'}")
    return found.value, f"{found.value:g} nF/kWp assumed: {found.text}"


def _rule(item: str) -> Rule:
    found = inspection_rule(item)
    assert found is not None, item
    return found
