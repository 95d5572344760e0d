"""Turn every key of the schema, one by one, and name those that change nothing.

Run by hand, `python -m tests.study.every_key`: it takes minutes. Each key, changed alone, should
change a finding, a number or a sentence on one of three sites that state nearly everything.
"""

import copy
import sys
import tempfile
from functools import cached_property
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

import matplotlib.pyplot as plt
import pandas as pd
import pvlib
from pydantic import BaseModel

import yieldkit
from yieldkit.config.files import site_from_mapping
from yieldkit.config.schema_walk import Schema
from yieldkit.config.site import Site
from yieldkit.design.layout import string_layout
from yieldkit.design.limits import allowed_lengths, check
from yieldkit.report.diagram import layout_picture
from yieldkit.report.sketch import wall_picture
from yieldkit.study.prepare import prepare
from yieldkit.study.simulate import simulate_prepared
from yieldkit.study.trackers import Solutions
from yieldkit.study.weather import site_weather
from yieldkit.words.errors import InputError

COLUMNS = {
    "time": "when",
    "ghi": "global",
    "dni": "beam",
    "dhi": "diffuse",
    "temp_air": "air",
    "wind_speed": "wind",
    "pressure": "pressure",
    "relative_humidity": "humidity",
}
LEAD = {
    "length_m": 40,
    "cross_section_mm2": 10,
    "overcurrent_device_a": 32,
    "temp_ambient_c": 38,
    "circuits_bunched": 2,
}
CABLE = {
    "length_m": 60,
    "cross_section_mm2": 4,
    "rated_voltage_v": 1500,
    "laying_method": "two-touching",
    "temp_ambient_c": 72,
    "circuits_bunched": 3,
}
NETWORK = {
    "kind": "modelled",
    "voltage_v": 236,
    "daily_swing_v": 2,
    "load_term_v": 3,
    "neighbours_rise_v": 8,
    "noise_v": 2,
}
DATASHEET = {
    "initial_v_oc_excess_percent": 0.5,
    "v_oc_tolerance_percent": 1,
    "power_tolerance_percent": [0, 3],
    "noct_c": 45,
    "bifaciality": 0.7,
    "connector": "C4",
    "needs_functional_earthing": "no",
}
LISTED = {
    "source": "cec-list",
    "name": "M430 (invented)",
    "max_system_voltage_v": 1000,
    "max_ocpr_a": 20,
    "connector": "C4",
    "v_oc_tolerance_percent": 1,
    "length_m": 1.7,
    "width_m": 1.1,
    "lead_length_m": 1.2,
    "bifaciality": 0.6,
    "needs_functional_earthing": "no",
}
WEIGHTED = {
    "kind": "weighted",
    "european": 0.970,
    "cec": 0.972,
    "maximum": 0.980,
    "voltage_v": 600,
}
OTHERS: dict[tuple[str, str], list[Any]] = {
    ("Place", "time_zone"): ["UTC+02:00"],
    ("WeatherSource", "file"): ["others.csv"],
    ("WeatherSource", "zone"): ["UTC+02:00", "UTC+00:00"],
    ("WeatherSource", "encoding"): ["utf-16"],
    ("ColumnMap", "dni"): [None],
    ("ColumnMap", "dhi"): [None],
    ("ColumnMap", "wind_speed"): [None],
    ("ColumnMap", "pressure"): [None],
    ("ColumnMap", "relative_humidity"): [None],
    ("DatasheetModule", "v_mp_v"): [32.7],
    ("DatasheetModule", "i_mp_a"): [13.25],
    ("DatasheetModule", "alpha_sc"): ["0.05 %/K"],
    ("DatasheetModule", "beta_voc"): ["-0.27 %/K"],
    ("DatasheetModule", "gamma_pmp"): ["-0.33 %/K", "-0.38 %/K"],
    ("DatasheetModule", "i_sc_bnpi_a"): [15.5],
    ("DcIsolator", "category"): ["DC-20"],
    ("AcLead", "cross_section_mm2"): [16.0],
    ("Cable", "cross_section_mm2"): [6.0],
    ("NetworkVoltage", "file"): ["more_volts.csv"],
    ("NetworkVoltage", "column"): ["a"],
    ("Plane", "modules"): [
        {"planes.2.modules": 8, "planes.2.positions": [], "planes.2.cable_exit": None}
    ],
    ("WiredString", "fuse_a"): [20.0],
    ("TrackerStrings", "mppt"): [
        {"wirings.0.trackers.1.mppt": "MPPT 3", "wirings.0.trackers.2.mppt": "MPPT 2"}
    ],
    ("Group", "plane"): [
        {
            "wirings.0.trackers.1.strings.0.groups.0.modules": 7,
            "wirings.0.trackers.2.strings.0.groups.0.plane": "east roof",
        }
    ],
    ("Cable", "material"): [
        {
            "wirings.0.trackers.0.strings.0.cable": CABLE
            | {"material": "aluminium", "conductor_class": "class-2", "cross_section_mm2": 10}
        }
    ],
}
"""Other values that can't be found by turning a number or a word."""
ELSEWHERE = {
    ("Site", "schema_version"): "there is one version",
    ("Site", "invented"): "the report's first box says it",
    ("Place", "unusual_time_zone"): "it answers a question that is asked of a clock far off",
    ("WeatherSource", "format"): "each format needs a file of its own",
    ("WeatherSource", "fill_gaps_up_to_h"): "it needs a file with gaps",
    ("WeatherSource", "decimal"): "it needs a file that doesn't tell it",
    ("WeatherSource", "date_format"): "it needs a file that doesn't tell it",
    ("WeatherSource", "encoding"): "it needs a file that doesn't tell it",
    ("ColumnMap", "time"): "only one column holds the time",
    ("DatasheetModule", "source"): "it names the kind of the entry",
    ("ListedModule", "source"): "it names the kind of the entry",
    ("EfficiencyTable", "kind"): "it names the kind of the entry",
    ("WeightedEfficiency", "kind"): "it names the kind of the entry",
    ("ListedEfficiency", "kind"): "it names the kind of the entry",
    ("DatasheetModule", "technology"): "it decides which values are plausible, and on earthing",
    ("Plane", "module_type"): "it needs two types; their figures are tried one by one",
    ("MpptInput", "full_power_voltage_max_v"): "the report's figure of voltages draws it",
    ("MpptInput", "stop_voltage_v"): "it needs a weak string and a dark hour",
    ("MpptInput", "stop_power_w"): "it needs a weak string and a dark hour",
    ("MpptInput", "restart_delay_s"): "it needs a stop in daylight",
}
"""Keys whose effect needs more than two bright days of one site, and why."""


def filled(place):
    """Put two days of weather and of network voltage into a folder."""
    site = yieldkit.load_site()
    year = site_weather(site)
    days = year.isel(time=slice(24 * 170, 24 * 172))
    ahead = pd.Timedelta(seconds=year.attrs["utc_offset_s"])
    local = pd.DatetimeIndex(days.indexes["time"]) + ahead
    frame = pd.DataFrame({"when": local.strftime("%Y-%m-%d %H:%M")})
    for name, column in COLUMNS.items():
        if name != "time":
            frame[column] = days[name].to_numpy() if name in days else 101_000.0
    frame["humidity"] = 60.0
    frame["global too"] = frame["global"] * 1.005
    frame["air too"] = frame["air"] + 1.0
    frame.to_csv(place / "days.csv", index=False)
    frame.assign(beam=frame["beam"] * 0.9).to_csv(place / "others.csv", index=False)
    volts = pd.DataFrame({"time": frame["when"], "a": 236.0, "b": 241.0})
    volts.to_csv(place / "volts.csv", index=False)
    volts.assign(b=239.0).to_csv(place / "more_volts.csv", index=False)


def listed_rows(table, **wanted):
    """Return rows of a bundled list whose figures lie in a span, by name."""
    found = pvlib.pvsystem.retrieve_sam(table).T
    for key, (low, high) in wanted.items():
        found = found[(found[key].astype(float) >= low) & (found[key].astype(float) <= high)]
    return sorted(found.index)


def plain(value):
    """Return content that can be edited."""
    if isinstance(value, dict):
        return {key: plain(each) for key, each in value.items()}
    return [plain(each) for each in value] if isinstance(value, list | tuple) else value


def put(content, path, value):
    """Replace what stands at a path of keys and positions."""
    for part in path[:-1]:
        content = content[part]
    content[path[-1]] = value


def edited(content, changes):
    """Return content with parts replaced, by paths written with dots."""
    new = copy.deepcopy(content)
    for path, value in changes.items():
        parts = [int(part) if part.isdigit() else part for part in path.split(".")]
        put(new, parts, value)
    return new


def bases(folder):
    """Return sites that together state every key, as keys and values."""
    demo = plain(yieldkit.load_site().model_dump(exclude={"folder"}))
    demo["module_types"][0] |= DATASHEET
    two = demo["wirings"][0]
    two["trackers"][0]["strings"][0] |= {"cable": CABLE, "fuse_a": 25}
    two["trackers"][0]["strings"][1] |= {"cable": CABLE, "fuse_a": 25}
    other = copy.deepcopy(demo["wirings"][2])
    weather = {"file": "days.csv", "format": "csv", "columns": COLUMNS, "sampling": "mean"}
    weather["zone"] = "UTC+01:00"
    first = edited(
        demo,
        {
            "notes": "Seen on the roof.",
            "site.altitude_m": 300,
            "weather": weather | {"label": "middle", "wind_height_m": 8},
            "wirings": [two, other],
            "planes.0.horizon": [
                {"azimuth_deg": 200, "elevation_deg": 12},
                {"azimuth_deg": 300, "elevation_deg": 9},
            ],
            "planes.2.drawing": [],
            "planes.2.positions": [{"row": 0, "column": n} for n in range(7)],
            "planes.0.rear_irradiance_w_m2": 150,
            "inverter.max_dc_power_pairs": [{"mppts": ["MPPT 1", "MPPT 2"], "max_power_w": 9000}],
            "inverter.max_dc_short_circuit_a": 120,
            "inverter.altitude_derating": {"above_m": 200, "percent_per_100_m": 5},
            "inverter.ac.power_factor": 0.97,
            "inverter.ac.export_limit_w": 12_000,
            "inverter.connector": "C4",
            "inverter.arc_detection": True,
            "inverter.rapid_shutdown": True,
            "inverter.derating": [
                {"temp_inlet_c": 20, "max_power_w": 15_000, "dc_voltage_v": 300},
                {"temp_inlet_c": 45, "max_power_w": 6000, "dc_voltage_v": 300},
                {"temp_inlet_c": 20, "max_power_w": 15_000, "dc_voltage_v": 600},
                {"temp_inlet_c": 45, "max_power_w": 5000, "dc_voltage_v": 600},
            ],
            "inverter_place.inlet_offset_k": 8,
            "grid.lead": LEAD,
            "grid.network_voltage": NETWORK,
            "grid.residual_current_device": "type-a",
            "grid.bonding_conductor_mm2": 6,
            "grid.busbar_rating_a": 63,
            "grid.main_device_a": 40,
            "standards.strings": "nec-690",
        },
    )
    rows = listed_rows("CECMod", I_sc_ref=(9.5, 10.5), V_oc_ref=(40, 48), gamma_r=(-0.5, -0.3))
    second = edited(
        first,
        {
            "module_types.0": LISTED | {"row": rows[0]},
            "inverter.efficiency": WEIGHTED,
            "grid.network_voltage": {"kind": "series", "file": "volts.csv", "column": "b"},
            "standards.strings": "iec-62548-2016",
            "weather": weather
            | {"label": "start", "columns": COLUMNS | {"dni": None, "dhi": None}},
        },
    )
    inverters = listed_rows("cecinverter", Paco=(14_000, 16_000), Vdco=(500, 700))
    third = edited(
        demo,
        {
            "inverter.ac.nominal_power_w": 9000,
            "inverter.ac.max_power_w": 9000,
            "inverter.ac.max_apparent_power_va": None,
            "inverter.ac.max_current_a": None,
            "module_types.0.i_sc_bnpi_a": 15,
            "inverter.efficiency": {"kind": "sandia-list", "row": inverters[0]},
            "weather": weather | {"sampling": "snapshot", "sun_offset_min": 20, "label": None},
            "grid.network_voltage.voltage_v": 246,
            "grid.network_resistance_ohm": 0.7,
        },
    )
    return (first, second, third), rows, inverters


class Seen:
    """What a site's outputs say: findings, lengths and layout first, then a simulation."""

    def __init__(self, content, folder):
        self.site = site_from_mapping(content, folder=folder)

    @cached_property
    def cheap(self):
        """Return findings, allowed lengths and the layout as text."""
        said = [repr(check(self.site, each)) for each in self.site.wirings]
        said.append(allowed_lengths(self.site).to_csv())
        said.append(repr(string_layout(self.site, self.site.wirings[0])))
        return said

    @cached_property
    def dear(self):
        """Return the assumptions and the numbers of a simulation, without hashes."""
        prepared = prepare(self.site, site_weather(self.site))
        result = simulate_prepared(prepared, self.site.wirings[0], Solutions())
        attrs = {k: v for k, v in result.attrs.items() if not k.endswith("sha256")}
        numbers = {name: result[name].to_numpy().tolist() for name in result.variables}
        weather = {k: v for k, v in prepared.weather.attrs.items() if k != "sha256"}
        return repr((prepared.assumptions, numbers, attrs, weather))

    @cached_property
    def pictures(self):
        """Return what the report's pictures say."""
        wall = wall_picture(self.site)
        drawn = layout_picture(self.site, self.site.wirings[0])
        plt.close("all")
        return (drawn.alt, None if wall is None else wall.alt)


def leaves(model, path=()):
    """Yield owner, key, path and value of every key of a site that holds no further keys."""
    for name in type(model).model_fields:
        if name == "folder":
            continue
        value = getattr(model, name)
        here = (*path, name)
        inner = [value] if isinstance(value, BaseModel) else value
        if isinstance(value, BaseModel):
            yield from leaves(value, here)
        elif isinstance(inner, tuple) and inner and isinstance(inner[0], BaseModel):
            for number, each in enumerate(inner):
                yield from leaves(each, (*here, number))
        else:
            yield type(model), name, here, value


def words(annotation):
    """Return the words of choice of a field."""
    kinds = (annotation, *get_args(annotation))
    return [word for kind in kinds if get_origin(kind) is Literal for word in get_args(kind)]


def others(owner, key, value):
    """Return other values that a key might have."""
    found = [word for word in words(owner.model_fields[key].annotation) if word != value]
    if found:
        return found
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int | float):
        near = [value * 1.04, value * 0.96, value + 1, value * 0.5, value * 2, value + 30]
        whole = type(value) is int
        return [round(each) if whole else float(each) for each in near if each != value]
    if isinstance(value, str):
        return [value + " too"]
    return []


def renamed(content, old, new):
    """Return content with a name replaced wherever it stands alone."""
    if isinstance(content, dict):
        return {key: renamed(each, old, new) for key, each in content.items()}
    if isinstance(content, list):
        return [renamed(each, old, new) for each in content]
    return new if content == old else content


def dead_keys(folder):
    """Return the keys that change nothing, and those that no site states."""
    sites, rows, inverters = bases(folder)
    special = {
        ("ListedModule", "row"): rows[1:4],
        ("ListedEfficiency", "row"): inverters[1:4],
    } | OTHERS
    alive: set[tuple[str, str]] = set()
    stated: set[tuple[str, str]] = set()
    for content in sites:
        before = Seen(content, folder)
        for owner, key, path, value in leaves(before.site):
            name = (owner.__name__, key)
            stated.add(name)
            if name in alive or name in ELSEWHERE:
                continue
            for other in special.get(name, others(owner, key, value)):
                if shows(content, before, path, value, other, folder):
                    alive.add(name)
                    break
    every = {
        (model.__name__, key)
        for model in Schema(Site).models()
        for key, field in model.model_fields.items()
        if key != "folder" and not holds_keys(field.annotation)
    }
    return sorted(stated - alive - ELSEWHERE.keys()), sorted(every - stated - ELSEWHERE.keys())


def holds_keys(annotation):
    """Return whether a field holds further keys."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return True
    return any(holds_keys(each) for each in get_args(annotation))


def shows(content, before, path, value, other, folder):
    """Return whether a site with another value of a key says anything else."""
    new = copy.deepcopy(content)
    if path[-1] == "name":
        new = renamed(new, value, other)
    elif isinstance(other, dict):
        new = edited(new, other)
    else:
        put(new, path, other)
    try:
        after = Seen(new, folder)
        if after.cheap != before.cheap or after.dear != before.dear:
            return True
        return after.pictures != before.pictures
    except InputError:
        return False


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        filled(Path(name))
        dead, unstated = dead_keys(Path(name))
    lines = ["changes nothing:", *map(str, dead), "stated on no site:", *map(str, unstated)]
    sys.stdout.write("\n".join(lines) + "\n")
