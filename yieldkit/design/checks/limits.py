"""All checks of a wiring, in a fixed order: every item is always reported."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import chain
from typing import NamedTuple, NoReturn

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
    leads,
    leakage,
    parallel_strings,
    shade,
    string_cables,
    string_current,
    string_voltage,
    usage,
)
from yieldkit.design.checks import cell_temperature as cell_heat
from yieldkit.design.checks.findings import VERDICTS, Finding, Findings, not_applicable
from yieldkit.design.checks.wired import (
    ModuleFacts,
    StringFacts,
    cold_module_voltage,
    module_facts,
    module_voltage_at,
    string_facts,
)
from yieldkit.design.equipment.modules import fit_module_type

Strings = tuple[StringFacts, ...]


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
    sides = _sides(site, chosen)
    strings = tuple(string for side in sides for string in side.named_strings)

    def each(check: Callable[[Site, Strings], Iterable[Finding]]) -> Iterator[Finding]:
        """Give an inverter's findings for one after the other."""
        for side in sides:
            yield from side.named(check(side.site, side.strings))

    def wired(check: Callable[[Site, Strings], Iterable[Finding]]) -> Iterator[Finding]:
        """Give the same of checks of what hangs on an inverter: of one without strings, none."""
        for side in sides:
            found = check(side.site, side.strings)
            yield from side.named(found if side.strings else map(_nothing_hangs, found))

    return Findings(
        (
            *chain.from_iterable(wired(own) for own in INPUT_CHECKS),
            *each(partial(string_voltage.windows, aged_percent=aged_percent)),
            *wired(string_current.powers),
            *wired(inspection.surge),
            *leads.ac_leads(site),
            *connection.network_voltages(site),
            *each(lambda own, _: inspection.residual_current_device(own)),
            *inspection.bonding(site),
            *each(lambda own, _: inspection.arcs_and_shutdown(own)),
            *each(lambda own, _: built_in.built_in(own)),
            *cell_heat.cell_heat(site),
            *wired(lambda own, strings: (leakage.leakage(own, strings),)),
            *inspection.single_phase(site),
            *inspection.busbar(site),
            *each(lambda own, _: inspection.type_tests(own)),
            *each(lambda own, _: altitude.altitude(own)),
            *wired(lambda own, strings: (dc_parts.connectors(own, strings),)),
            *each(string_voltage.earthing),
            *each(lambda own, _: usage.idle_inputs(own, own.wirings[0])),
            *usage.usage(site, strings),
            *shade.shade(site),
        )
    )


def _nothing_hangs(finding: Finding) -> Finding:
    """Return a check of what hangs on an inverter on which no string does."""
    why = "No string hangs on this inverter."
    return not_applicable(finding.check, finding.subject, why, essential=finding.essential)


class _Side(NamedTuple):
    """One inverter with what hangs on it.

    Parameters
    ----------
    prefix : str
        What its findings' subjects begin with; empty where it is the only one.
    site : Site
        The site as it stands to this inverter alone, with the wiring's part on it.
    strings : tuple of StringFacts
        Its strings.
    """

    prefix: str
    site: Site
    strings: Strings

    @property
    def named_strings(self) -> Strings:
        """Its strings with the inverter's name, for what looks at all of them."""
        if not self.prefix:
            return self.strings
        return tuple(
            replace(string, subject=self.prefix + string.subject) for string in self.strings
        )

    def named(self, findings: Iterable[Finding]) -> Iterator[Finding]:
        """Put the inverter's name before the findings' subjects."""
        for finding in findings:
            subject = f"{self.prefix}{finding.subject}"
            yield finding if not self.prefix else replace(finding, subject=subject)


def _sides(site: Site, wiring: Wiring) -> list[_Side]:
    facts = site_facts(site)
    sides = []
    for one in site.each_inverter():
        own = wiring.on(one.name) if site.several_inverters else wiring
        alone = one.site.model_copy(update={"wirings": (own,)})
        prefix = f"{one.name} / " if site.several_inverters else ""
        sides.append(_Side(prefix, alone, string_facts(alone, own, facts)))
    return sides


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
    for mppt in site.single_inverter.mppts:
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


def every_allowed_length(site: Site) -> pd.DataFrame:
    """Return the allowed string lengths of every input of every inverter.

    Parameters
    ----------
    site : Site
        The site.

    Returns
    -------
    DataFrame
        As `allowed_lengths`, inputs named as results name them.
    """
    parts = []
    for one in site.each_inverter():
        own = allowed_lengths(one.site)
        if site.several_inverters:
            own["mppt"] = f"{one.name} / " + own["mppt"]
        parts.append(own)
    return pd.concat(parts, ignore_index=True)


def _up(ratio: float) -> int:
    return int(-(-ratio // 1)) if abs(ratio - round(ratio)) > 1e-9 else round(ratio)
