"""What an inverter is told when it starts for the first time, as far as the site file knows."""

from __future__ import annotations

from dataclasses import dataclass

from yieldkit.config.models.inverters import Inverter
from yieldkit.config.site.site import OneInverter, Site
from yieldkit.design.checks.grid_profiles import profile_rule

NOT_STATED = "not stated in the site file"


@dataclass(frozen=True)
class Entry:
    """One value to enter, or to look up in the maker's manual.

    Parameters
    ----------
    what : str
        What is asked.
    value : str
        The value with its unit, or that it isn't stated.
    """

    what: str
    value: str


def set_up(site: Site, one: OneInverter) -> tuple[Entry, ...]:
    """Return what is entered when an inverter is started for the first time.

    Parameters
    ----------
    site : Site
        The whole site.
    one : OneInverter
        The inverter.
    """
    kind, grid = one.site.single_inverter, site.grid
    side = kind.ac
    return (
        Entry("network rules", grid.profile or NOT_STATED),
        Entry("nominal voltage, phase to neutral", f"{side.nominal_voltage_v:g} V"),
        Entry("phases, frequency", f"{side.phases}, {side.nominal_frequency_hz} Hz"),
        Entry("highest voltage, 10-minute mean", _highest(site)),
        Entry("largest active power", f"{side.max_power_w or side.nominal_power_w:,.0f} W"),
        Entry("largest apparent power", _watts(side.max_apparent_power_va, "VA")),
        Entry("reactive power", _reactive(one, kind)),
        Entry("power limit of this inverter into the network", _limit(side.export_limit_w)),
        Entry("export limit at the meter", _export(site)),
        Entry("search for the highest of several power maxima (shadow)", _search(kind)),
        Entry("date, time and zone of its clock", f"site's clock is {site.site.time_zone}"),
    )


def _watts(value: float | None, unit: str) -> str:
    return NOT_STATED if value is None else f"{value:,.0f} {unit}"


def _limit(value: float | None) -> str:
    return f"{NOT_STATED}: none is assumed" if value is None else f"{value:,.0f} W"


def _highest(site: Site) -> str:
    rule = profile_rule(site.grid.profile, "mean_limit")
    if rule is None:
        return NOT_STATED
    volts = rule.value / 100.0 * site.nominal_voltage_v
    return f"{volts:.1f} V by the rules' usual setting: {rule.text}"


def _reactive(one: OneInverter, kind: Inverter) -> str:
    own = one.reactive
    factor = f"{kind.ac.power_factor:g} ({kind.ac.power_factor_sign})"
    plain = (
        "displacement factor 1" if kind.ac.power_factor == 1.0 else f"displacement factor {factor}"
    )
    if own is None or own.kind == "fixed":
        return plain
    words = {"cos-phi-of-p": "displacement factor by power", "q-of-u": "by the voltage"}
    points = "; ".join(f"{x:g}: {y:+g}" for x, y in own.points) or "the rules' own curve"
    return f"{words[own.kind]} ({points}); {own.priority} power is kept first"


def _export(site: Site) -> str:
    limit = site.grid.export_limit_w
    if limit is None:
        return f"{NOT_STATED}: none is assumed"
    ways = {"proportional": ", shared in proportion", "in-order": ", shared in the file's order"}
    shared = ways[site.grid.export_sharing] if site.several_inverters else ""
    return f"{limit:,.0f} W{shared}"


def _search(kind: Inverter) -> str:
    found = {mppt.search for mppt in kind.mppts}
    if len(found) == 1:
        return "on" if found == {"global"} else "off"
    return "; ".join(f"{m.name}: {'on' if m.search == 'global' else 'off'}" for m in kind.mppts)
