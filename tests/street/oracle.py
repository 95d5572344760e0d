"""A second opinion on a house's year: from its file and its weather to what is delivered.

It reads the site file as plain YAML and imports nothing of the product, so that it agrees with it
only where both are right, or wrong for reasons of their own.
"""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd
import yaml

from tests.street import (
    oracle_ac,
    oracle_cells,
    oracle_circuit,
    oracle_gaps,
    oracle_network,
    oracle_shade,
    oracle_shaded_string,
    oracle_sky,
)


@dataclass
class Roofs:
    """What every wiring of a house shares.

    Parameters
    ----------
    site : dict
        The site file.
    table : DataFrame
        Its weather.
    step_s : float
        Length of a step [s].
    light : dict
        `poa`, `effective` and `temp_cell` by plane.
    modules : dict
        Diode parameters of a module by plane, each (time,).
    types : dict
        Module type by plane.
    shade, shaded : dict
        Where planes have their corners, by plane: light on their cells, and diode parameters in it,
        each (time, module, group, half).
    present : ndarray of bool, optional
        Steps that have weather (time,); all if left out.
    """

    site: dict
    table: pd.DataFrame
    step_s: float
    light: dict = field(default_factory=dict)
    modules: dict = field(default_factory=dict)
    types: dict = field(default_factory=dict)
    shade: dict = field(default_factory=dict)
    shaded: dict = field(default_factory=dict)
    present: np.ndarray | None = None

    def kwh(self, watts: np.ndarray) -> float:
        """Return the energy of a series in the time that has weather [kWh]."""
        kept = watts if self.present is None else watts[self.present]
        return float(np.sum(kept)) * self.step_s / 3.6e6


def read_site(path: Path) -> dict:
    """Return a site file's content."""
    return yaml.safe_load(path.read_text(encoding="utf-8"))


def roofs(site: dict, table: pd.DataFrame, offset_min: float | None = None) -> Roofs:
    """Follow every plane from the sky to its diodes."""
    place = _under_whose_sun(site, table)
    step_s = (table.index[1] - table.index[0]).total_seconds()
    solar = oracle_sky.sun(table, place, offset_min)
    hours = site["weather"].get("fill_gaps_up_to_h", 0.0)
    table, present = oracle_gaps.bridged(table, solar, hours * 3600.0 / step_s)
    if "dni" not in table:
        words = site.get("models", {}).get("decomposition", "erbs-driesse")
        dni, dhi = oracle_sky.split(table["ghi"].to_numpy(), solar, words)
        attrs = table.attrs
        table = table.assign(dni=dni, dhi=dhi)
        table.attrs = attrs
    found = Roofs(site, table, step_s, present=present)
    sheets = {sheet["name"]: sheet for sheet in site["module_types"]}
    for roof in site["planes"]:
        name, sheet = roof["name"], sheets[roof["module_type"]]
        light = oracle_sky.plane(table, solar, site, roof)
        found.light[name], found.types[name] = light, sheet
        found.modules[name] = _diodes(roof, sheet, light["effective"], light["temp_cell"])
        if "corner_m" in roof:
            shade = oracle_shade.plane(site, roof, solar, light["parts"], table.attrs["offset_h"])
            found.shade[name] = shade
            found.shaded[name] = _shaded_diodes(roof, sheet, light, shade, table)
    return found


def _diodes(roof: dict, sheet: dict, effective: np.ndarray, temp_cell: np.ndarray) -> tuple:
    """Return the diode parameters of a plane's modules, their own quality too."""
    kept = 1.0 + roof.get("power_deviation_percent", 0.0) / 100.0
    current, leak, series, shunt, a = oracle_cells.conditions(sheet, effective, temp_cell)
    return current * kept, leak * kept, series / kept, shunt / kept, a


def _shaded_diodes(
    roof: dict, sheet: dict, light: dict, shade: oracle_shade.Shade, table: pd.DataFrame
) -> tuple:
    """Return them for each half of each cell group; a module in shade warms by its mean light."""
    air = table["temp_air"].to_numpy()
    full = np.maximum(light["effective"], 1e-9)[:, None]
    warm = air[:, None] + (light["temp_cell"] - air)[:, None] * shade.mean / full
    temp_cell = np.broadcast_to(warm[..., None, None], shade.darkest.shape)
    return _diodes(roof, sheet, shade.darkest, temp_cell)


def _under_whose_sun(site: dict, table: pd.DataFrame) -> dict:
    """Return the place whose sun shines: the station's where the weather is moved."""
    if not site["weather"].get("moved"):
        return site["site"]
    return table.attrs["station"]


@dataclass
class Year:
    """What a wiring gives: energies [kWh], voltages [V] and share lost to switch-off, (time,).

    `kept_home_kwh` is what an export limit takes, `held_kwh` what a voltage-dependent power takes,
    `network_kwh` that and switching off.
    """

    dc_kwh: float
    converted_kwh: float
    clipped_kwh: float
    derated_kwh: float
    reactive_kwh: float
    kept_home_kwh: float
    held_kwh: float
    network_kwh: float
    delivered_kwh: float
    volts: np.ndarray
    rise: np.ndarray
    lost: np.ndarray


def year(shared: Roofs, wiring: dict) -> Year:
    """Follow one wiring to the far end of its lead.

    Parameters
    ----------
    shared : Roofs
        From `roofs`.
    wiring : dict
        An entry of the site file's wirings.
    """
    site = shared.site
    inverter = site["inverter"]
    power, volts = _inputs(shared, wiring)
    converted = oracle_ac.convert(inverter, power, volts)
    air = shared.table["temp_air"].to_numpy()
    outside = oracle_ac.network_voltage(site, shared.table["ghi"].to_numpy(), _hours(shared))
    caps = oracle_ac.fixed_caps(site, air, volts.max(axis=1), outside)
    derating = caps.pop("derating")
    limited = np.minimum(
        converted, np.min([np.broadcast_to(cap, air.shape) for cap in caps.values()], axis=0)
    )
    own = np.where(power.sum(axis=1) <= 0.0, inverter.get("night_power_w", 0.0), 0.0)
    own += inverter.get("auxiliary_power_w", 0.0)
    limited = oracle_ac.held_by_amperes(oracle_ac.at_unity(site), limited, own, outside)
    derated = np.minimum(limited, derating)
    side = inverter["ac"]
    apparent = side.get("max_apparent_power_va", np.inf) * side.get("power_factor", 1.0)
    reactive = oracle_ac.held_by_amperes(site, np.minimum(derated, apparent), own, outside)
    exportable = oracle_ac.held_at_the_meter(site, reactive, own, outside)
    cap = oracle_network.held_by_voltage(site, exportable, outside)
    held = exportable - np.minimum(exportable, cap)
    fed = np.minimum(exportable, cap) - own
    kept = site.get("grid", {}).get("availability_percent", 100.0) / 100.0
    terminal_v, heat = oracle_ac.terminals(site, fed, outside)
    without, _ = oracle_ac.terminals(site, np.zeros_like(fed), outside)
    rise = np.where(fed > 0.0, terminal_v - without, 0.0)
    lost = oracle_network.lost_to_switch_off(site, without, rise)
    delivered = np.where(fed > 0.0, (fed - heat) * (1.0 - lost), fed - heat)
    delivered = np.where(delivered > 0.0, kept * delivered, delivered)
    return Year(
        shared.kwh(power.sum(axis=1)),
        shared.kwh(converted),
        shared.kwh(converted - limited),
        shared.kwh(limited - derated),
        shared.kwh(derated - reactive),
        shared.kwh(reactive - exportable),
        shared.kwh(held),
        shared.kwh(held + np.where(fed > 0.0, (fed - heat) * lost, 0.0)),
        shared.kwh(delivered),
        terminal_v,
        rise,
        lost,
    )


def _hours(shared: Roofs) -> np.ndarray:
    """Return the local hour in the middle of each step."""
    middle = shared.table.index + pd.Timedelta(
        hours=shared.table.attrs["offset_h"], seconds=shared.step_s / 2.0
    )
    return np.asarray(middle.hour + middle.minute / 60.0)


def _inputs(shared: Roofs, wiring: dict) -> tuple[np.ndarray, np.ndarray]:
    """Return power [W] and voltage [V] of each input in use (time, input)."""
    mppts = {mppt["name"]: mppt for mppt in shared.site["inverter"]["mppts"]}
    columns = []
    for tracker in wiring["trackers"]:
        mppt = mppts[tracker["mppt"]]
        names = {g["plane"] for s in tracker["strings"] for g in s["groups"]}
        lit = np.any([shared.light[name]["effective"] > 0.0 for name in names], axis=0)
        rows = np.flatnonzero(lit)
        strings = _strings(shared, tracker, rows)
        found = oracle_circuit.best_point(strings, mppt)
        power, volts, top = (np.zeros(lit.size) for _ in range(3))
        for target, values in zip((power, volts, top), found, strict=True):
            target[rows] = values
        share = oracle_circuit.running(power, volts, top, ~lit, mppt, shared.step_s)
        tracked = power * share * mppt.get("tracking_efficiency", 0.998)
        columns.append((tracked, np.where(share > 0.0, volts, 0.0)))
    power = np.stack([column for column, _ in columns], axis=1)
    names = [tracker["mppt"] for tracker in wiring["trackers"]]
    return _held(shared.site["inverter"], names, power), np.stack([v for _, v in columns], axis=1)


def _strings(shared: Roofs, tracker: dict, rows: np.ndarray) -> list:
    """Return the strings of an input."""
    if not shared.shaded:
        return oracle_circuit.strings_of(tracker, shared.modules, shared.types, rows)
    # Strings in parallel are not foreseen in the shade.
    (string,) = tracker["strings"]
    parts = []
    for group in string["groups"]:
        order = shared.shade[group["plane"]].order
        own = [order[place["row"], place["column"]] for place in group["places"]]
        parts.append(tuple(part[:, own] for part in shared.shaded[group["plane"]]))
    ohms = oracle_circuit.cable_resistance(string)
    return [oracle_shaded_string.ShadedString(parts, ohms, rows)]


def _held(inverter: dict, names: list[str], power: np.ndarray) -> np.ndarray:
    """Hold each input, pairs of them and all together at their largest power."""
    own = {m["name"]: m.get("max_power_w", np.inf) for m in inverter["mppts"]}
    held = np.minimum(power, [own[name] for name in names])
    shared = [(p["mppts"], p["max_power_w"]) for p in inverter.get("max_dc_power_pairs", [])]
    shared.append((names, inverter.get("max_dc_power_w", np.inf)))
    for members, most in shared:
        own_columns = [k for k, name in enumerate(names) if name in members]
        total = held[:, own_columns].sum(axis=1)
        held[:, own_columns] *= np.minimum(most / np.maximum(total, 1e-9), 1.0)[:, None]
    return held
