"""All checks of a wiring, in a fixed order: every item is always reported."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import chain
from typing import NoReturn

import pandas as pd

from yieldkit.base.errors import nearest, refuse
from yieldkit.config.reading.wording import one_of, shown
from yieldkit.config.site.display import refuse_other_than_site
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks import (
    altitude,
    built_in,
    connection,
    dc_parts,
    inspection,
    leakage,
    parallel_strings,
    string_cables,
    string_current,
    string_voltage,
    usage,
)
from yieldkit.design.checks import cell_temperature as cell_heat
from yieldkit.design.checks.findings import VERDICTS, Finding, Findings
from yieldkit.design.checks.wired import (
    ModuleFacts,
    cold_module_voltage,
    module_facts,
    module_voltage_at,
    string_facts,
)
from yieldkit.design.equipment.modules import fit_module_type


def named_wiring(site: Site, name: str | None) -> Wiring:
    """Return a site's wiring by name, or its first when no name is given.

    Raises
    ------
    InputError
        If there is no such wiring; the nearest name is suggested. If the site is none.
    """
    refuse_other_than_site(site, Site)
    if name is None:
        return site.wirings[0]
    for wiring in site.wirings:
        if wiring.name == name:
            return wiring
    refuse_unknown_wiring(name, [wiring.name for wiring in site.wirings])


def refuse_unknown_wiring(name: object, known: Sequence[str]) -> NoReturn:
    """Refuse the name of a wiring that there isn't.

    Parameters
    ----------
    name : object
        What was given.
    known : sequence of str
        The names there are.

    Raises
    ------
    InputError
        Always; the nearest name is suggested.
    """
    needed = one_of(known)
    if isinstance(name, Wiring):
        refuse("wiring", f"the wiring '{name.name}' itself", f"its name, {needed}")
    close = nearest(name, known) if isinstance(name, str) else None
    refuse("wiring", shown(name), needed, remedy=f"Did you mean '{close}'?" if close else "")


def site_facts(site: Site) -> dict[str, ModuleFacts]:
    """Return the module types' figures for the checks, by name."""
    return {
        module.name: module_facts(module, fit_module_type(module)) for module in site.module_types
    }


INPUT_CHECKS = (
    string_voltage.cold_voltages,
    string_current.currents,
    parallel_strings.parallel,
    string_current.fuses,
    string_cables.string_cables,
    dc_parts.isolator,
)
"""Checks that what hangs on one input can fail by itself, whatever hangs on the others."""


def check(site: Site, wiring: str | Wiring | None = None, *, aged_percent: float = 0.0) -> Findings:
    """Check one wiring of a site.

    Parameters
    ----------
    site : Site
        The site.
    wiring : str or Wiring, optional
        The wiring, by name or itself; the site's first if left out.
    aged_percent : float
        Loss of operating voltage of aged modules for the hot checks [%].

    Returns
    -------
    Findings
        A tuple of `Finding`, a fixed list with `table()` for a DataFrame: what can't be checked is
        reported as NOT CHECKED with the missing datum, what doesn't apply with the reason. A design
        aid, not a certificate.

    Raises
    ------
    InputError
        If there is no such wiring, or the site is none.
    """
    refuse_other_than_site(site, Site)
    chosen = wiring if isinstance(wiring, Wiring) else named_wiring(site, wiring)
    strings = string_facts(site, chosen, site_facts(site))
    return Findings(
        (
            *chain.from_iterable(own(site, strings) for own in INPUT_CHECKS),
            *string_voltage.windows(site, strings, aged_percent),
            *string_current.powers(site, strings),
            *inspection.surge(site, strings),
            *connection.ac_lead(site),
            *connection.network_voltages(site),
            *inspection.earthing_and_faults(site),
            *built_in.built_in(site),
            *cell_heat.cell_heat(site),
            leakage.leakage(site, strings),
            *inspection.connection(site),
            *altitude.altitude(site),
            dc_parts.connectors(site, strings),
            *string_voltage.earthing(site, strings),
            *usage.usage(site, chosen, strings),
        )
    )


def counts(findings: tuple[Finding, ...]) -> dict[str, int]:
    """Return how many findings have each verdict, worst first."""
    found = Counter(finding.verdict for finding in findings)
    return {verdict: found.get(verdict, 0) for verdict in VERDICTS}


def allowed_lengths(site: Site) -> pd.DataFrame:
    """Return the allowed string lengths of every input and plane.

    Parameters
    ----------
    site : Site
        The planes, their modules and the inverter's inputs.

    Returns
    -------
    DataFrame
        Per input and plane: fewest modules by start-up and by the window when hot, most by the
        cold open-circuit voltage, and the range inside the full-power window; missing where a
        datum is missing.
    """
    design = site.site.design_temperatures
    facts = site_facts(site)
    rows = []
    for mppt in site.inverter.mppts:
        for plane in site.planes:
            module = facts[plane.module_type]
            row: dict[str, object] = {"mppt": mppt.name, "plane": plane.name}
            if design.highest_ambient_c is not None:
                hot = design.highest_ambient_c
                hot_oc = module_voltage_at(module, plane, hot, "v_oc")
                hot_mp = module_voltage_at(module, plane, hot, "v_mp")
                row["fewest_by_start_up"] = _up(mppt.start_voltage_v / hot_oc)
                row["fewest_by_window"] = _up(mppt.mpp_voltage_min_v / hot_mp)
                if mppt.full_power_voltage_min_v is not None:
                    row["fewest_for_full_power"] = _up(mppt.full_power_voltage_min_v / hot_mp)
            if design.lowest_ambient_c is not None:
                cold = cold_module_voltage(module, plane, design.lowest_ambient_c)
                if cold == cold:
                    row["most_by_cold_voltage"] = int(mppt.max_voltage_v * (1 + 1e-9) // cold)
            rows.append(row)
    columns = (
        "mppt",
        "plane",
        "fewest_by_start_up",
        "fewest_by_window",
        "fewest_for_full_power",
        "most_by_cold_voltage",
    )
    return pd.DataFrame(rows, columns=columns)


def _up(ratio: float) -> int:
    return int(-(-ratio // 1)) if abs(ratio - round(ratio)) > 1e-9 else round(ratio)
