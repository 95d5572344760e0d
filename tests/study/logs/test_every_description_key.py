"""Every key of a log's description changes what is read."""

import numpy as np
import pytest

import yieldkit
from tests.study.logs.tables import (
    columns_of,
    described,
    readings,
    site,
    written,
)
from yieldkit.config.models.plant_log import LogDescription
from yieldkit.config.reading.schema_walk import Schema

DAY = readings()
TABLE = DAY.assign(
    W=2.0,
    D=DAY["G"] * 0.1,
    N=DAY["G"] * 0.8,
    E1=(DAY["P1"].cumsum() / 6.0 + 50.0).round(2),
    E=(DAY["Pac"].cumsum() / 6.0 + 50.0).round(2),
)
LIGHT = {"poa_global": {"west roof": "G"}, "temp_air": "Ta"}
SENSOR = {"plane": "west roof"}
PLANES = {"west roof": "G", "dormer": "D"}
AS_COUNTERS = columns_of("v_dc", "i_dc", ac=False) | {"e_dc": {"MPPT 1": "E1"}, "e_ac": "E"}
UNITS = {"e_dc": "Wh", "e_ac": "Wh"}
OWN = {"files": "a.csv", "columns": columns_of()}


def inverter(**columns):
    return {"inverters": [{"columns": columns_of() | columns}]}


PAIRS = {
    "wiring": ({}, {"wiring": "lopsided"}),
    "files": ({}, {"files": ["a.csv", "b.csv"]}),
    "zone": ({}, {"zone": "UTC+02:00"}),
    "clock": (
        {"zone": "Europe/Berlin", "clock": "wall"},
        {"zone": "Europe/Berlin", "clock": "standard"},
    ),
    "label": ({}, {"label": "end"}),
    "decimal": ({"files": "c.csv", "decimal": "."}, {"files": "c.csv", "decimal": ","}),
    "date_format": (
        {"files": "d.csv", "date_format": "day-first"},
        {"files": "d.csv", "date_format": "month-first"},
    ),
    "encoding": (
        {"files": "e.csv", "columns": {"temp_air": "Tü", "ghi": "G"}, "encoding": "cp850"},
        {"files": "e.csv", "columns": {"temp_air": "Tü", "ghi": "G"}},
    ),
    "units": ({"files": "k.csv"}, {"files": "k.csv", "units": {"p_dc": "kW", "p_ac": "kW"}}),
    "units.p_dc": (
        {"files": "k.csv", "units": {"p_ac": "kW"}},
        {"files": "k.csv", "units": {"p_dc": "kW", "p_ac": "kW"}},
    ),
    "units.p_ac": (
        {"files": "k.csv", "units": {"p_dc": "kW"}},
        {"files": "k.csv", "units": {"p_dc": "kW", "p_ac": "kW"}},
    ),
    "units.e_dc": (
        {"inverter": AS_COUNTERS, "units": UNITS},
        {"inverter": AS_COUNTERS, "units": UNITS | {"e_dc": "kWh"}},
    ),
    "units.e_ac": (
        {"inverter": AS_COUNTERS, "units": UNITS},
        {"inverter": AS_COUNTERS, "units": UNITS | {"e_ac": "MWh"}},
    ),
    "columns": ({}, {"columns": LIGHT}),
    "columns.time": ({}, {"columns": {"time": "Uac"}}),
    "columns.clock": ({"files": "f.csv"}, {"files": "f.csv", "columns": {"clock": "Hour"}}),
    "columns.poa_global": ({"columns": LIGHT}, {"columns": LIGHT | {"poa_global": PLANES}}),
    "columns.temp_module": (
        {"columns": LIGHT},
        {"columns": LIGHT | {"temp_module": {"dormer": "T"}}},
    ),
    "columns.ghi": ({"columns": LIGHT}, {"columns": LIGHT | {"ghi": "N"}}),
    "columns.dni": (
        {"columns": LIGHT | {"ghi": "N"}},
        {"columns": LIGHT | {"ghi": "N", "dni": "D"}},
    ),
    "columns.dhi": (
        {"columns": LIGHT | {"ghi": "N"}},
        {"columns": LIGHT | {"ghi": "N", "dhi": "D"}},
    ),
    "columns.temp_air": ({"columns": LIGHT}, {"columns": LIGHT | {"temp_air": "T"}}),
    "columns.wind_speed": ({"columns": LIGHT}, {"columns": LIGHT | {"wind_speed": "W"}}),
    "sensors": ({"columns": LIGHT}, {"columns": LIGHT, "sensors": [SENSOR | {"gain": 1.1}]}),
    "sensors.plane": (
        {"columns": LIGHT | {"poa_global": PLANES}, "sensors": [SENSOR | {"gain": 1.1}]},
        {
            "columns": LIGHT | {"poa_global": PLANES},
            "sensors": [{"plane": "dormer", "gain": 1.1}],
        },
    ),
    "sensors.kind": (
        {"columns": LIGHT},
        {"columns": LIGHT, "sensors": [SENSOR | {"kind": "reference-cell"}]},
    ),
    "sensors.tilt_deg": (
        {"columns": LIGHT},
        {"columns": LIGHT, "sensors": [SENSOR | {"tilt_deg": 5}]},
    ),
    "sensors.azimuth_deg": (
        {"columns": LIGHT},
        {"columns": LIGHT, "sensors": [SENSOR | {"azimuth_deg": 90}]},
    ),
    "sensors.gain": ({"columns": LIGHT}, {"columns": LIGHT, "sensors": [SENSOR | {"gain": 1.1}]}),
    "wind_height_m": ({"columns": LIGHT}, {"columns": LIGHT, "wind_height_m": 2.5}),
    "inverters": ({}, inverter(p_ac="P1")),
    "inverters.name": ({}, {"inverters": [{"name": "annex", "columns": columns_of()}]}),
    "inverters.files": ({}, {"files": [], "inverters": [OWN | {"files": "k.csv"}]}),
    "inverters.columns": ({}, inverter(v_ac=["Uac", "T"])),
    "inverters.columns.time": (
        {"files": [], "inverters": [OWN]},
        {"files": [], "inverters": [OWN | {"columns": columns_of() | {"time": "Uac"}}]},
    ),
    "inverters.columns.clock": (
        {"files": [], "inverters": [OWN | {"files": "f.csv"}]},
        {
            "files": [],
            "inverters": [{"files": "f.csv", "columns": columns_of() | {"clock": "Hour"}}],
        },
    ),
    "inverters.columns.v_dc": ({}, inverter(v_dc={"MPPT 1": "U2"})),
    "inverters.columns.i_dc": ({}, inverter(i_dc={"MPPT 1": "I2"})),
    "inverters.columns.p_dc": ({}, inverter(p_dc={"MPPT 1": "P2"})),
    "inverters.columns.e_dc": (
        {"inverter": columns_of("v_dc", "i_dc"), "units": UNITS},
        {"inverter": columns_of("v_dc", "i_dc") | {"e_dc": {"MPPT 1": "E1"}}, "units": UNITS},
    ),
    "inverters.columns.p_ac": ({}, inverter(p_ac="P1")),
    "inverters.columns.e_ac": (
        {"inverter": columns_of(ac=False), "units": UNITS},
        {"inverter": columns_of(ac=False) | {"e_ac": "E"}, "units": UNITS},
    ),
    "inverters.columns.v_ac": ({}, inverter(v_ac="T")),
}
"""Two descriptions that differ in one key."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder of tables."""
    folder = tmp_path_factory.mktemp("tables")
    later = TABLE.set_axis(TABLE.index + np.timedelta64(1, "D"), axis="index")
    kilo = TABLE.assign(**{name: TABLE[name] / 1000.0 for name in ("P1", "P2", "P3", "Pac")})
    # Two times of day: which is meant can't be seen.
    parts = written(TABLE, stamp="%Y-%m-%d,%H:%M").splitlines()
    hours = [f"{line},{line[11:16]}" for line in parts[1:]]
    # Thousands with a point, or numbers with three decimals?
    thousands = [
        ";".join(
            [f"{when + np.timedelta64(1, 'h'):%Y-%m-%d %H:%M}", *(f"{v / 1000:.3f}" for v in row)]
        )
        for when, row in zip(DAY.index, DAY.to_numpy(), strict=True)
    ]
    described(
        folder,
        {
            "a.csv": written(TABLE),
            "b.csv": written(later),
            "c.csv": "\n".join([";".join(["Time", *DAY]), *thousands]),
            "d.csv": written(
                TABLE.set_axis(TABLE.index - np.timedelta64(16, "D"), axis="index"),
                stamp="%d/%m/%Y %H:%M",
            ),
            "e.csv": written(TABLE, names=[{"Ta": "Tü"}.get(n, n) for n in TABLE]).encode("cp850"),
            "f.csv": "\n".join([parts[0].replace("Time", "Time,Hour") + ",Again", *hours]),
            "k.csv": written(kilo),
        },
    )
    return folder


READ = {}


def told(folder, keys):
    """Return what is read by a description, or why it is refused."""
    if repr(keys) not in READ:
        READ[repr(keys)] = _told(folder, keys)
    return READ[repr(keys)]


def _told(folder, keys):
    path = described(folder, {}, **({"files": "a.csv"} | keys))
    try:
        return yieldkit.read_log(path, site())
    except yieldkit.InputError as error:
        return str(error)


def differ(one, other):
    if isinstance(one, str) or isinstance(other, str):
        return one != other
    same = one.data.identical(other.data)
    if one.weather is None or other.weather is None:
        return not (same and one.weather is other.weather)
    own = [
        each.weather.drop_attrs(deep=False).assign_attrs(h=each.weather.attrs["wind_height_m"])
        for each in (one, other)
    ]
    return not (same and own[0].identical(own[1]))


def test_there_is_a_pair_for_every_key():
    assert set(PAIRS) == {
        ".".join([path, name]).strip(".")
        for name, paths in Schema(LogDescription).places_of().items()
        for path in paths
    }


def test_the_same_description_reads_the_same(folder):
    keys = {"columns": LIGHT}
    assert not differ(_told(folder, keys), _told(folder, keys))


@pytest.mark.parametrize("key", PAIRS)
def test_a_key_changes_what_is_read(folder, key):
    one, other = (told(folder, keys) for keys in PAIRS[key])
    assert not (isinstance(one, str) and isinstance(other, str)), (one, other)
    assert differ(one, other), one
