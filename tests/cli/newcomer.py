"""A newcomer's own site and weather beside it, and what the commands answer; by the door only."""

import json
import re
from pathlib import Path

from yieldkit.cli import main as cli

YEAR = Path(__file__).parents[2] / "weather" / "typical-year-45n-8e.csv"
PLANE = "south"
MODULE = {
    "name": "M430",
    "source": "datasheet",
    "technology": "mono-si",
    "p_max_w": 430,
    "v_oc_v": 38.9,
    "i_sc_a": 13.95,
    "v_mp_v": 32.6,
    "i_mp_a": 13.19,
    "cells_in_series": 54,
    "alpha_sc": "0.045 %/K",
    "beta_voc": "-0.26 %/K",
    "gamma_pmp": "-0.32 %/K",
    "max_system_voltage_v": 1500,
    "max_ocpr_a": 25,
}
MPPT = {
    "name": "1",
    "max_voltage_v": 1000,
    "start_voltage_v": 100,
    "stop_voltage_v": 90,
    "mpp_voltage_min_v": 90,
    "mpp_voltage_max_v": 950,
    "max_input_current_a": 120,
    "short_circuit_rating_a": 150,
}
INVERTER = {
    "name": "Inverter",
    "topology": "transformerless",
    "ac": {"nominal_power_w": 15000, "phases": 3, "nominal_voltage_v": 230},
    "efficiency": {"kind": "weighted", "european": 0.975, "maximum": 0.981, "load_at_maximum": 0.5},
    "dc_isolator": {"category": "DC-PV2", "rated_voltage_v": 1500, "rated_current_a": 150},
}
TEMPERATURES = {"lowest_ambient_c": -14, "highest_ambient_c": 37}


def written(
    path, strings=1, modules=20, cable=None, fuse_a=None, wirings=None, cold_known=True, **parts
):
    """Write a site file whose parts are the newcomer's, changed by keys; return its path."""
    string = {"groups": [{"plane": PLANE, "modules": modules}]}
    string |= {"cable": cable} if cable else {}
    string |= {"fuse_a": fuse_a} if fuse_a else {}
    wanted = wirings or {"own": [string] * strings}
    place = {"name": "Shed (invented)", "latitude": 45.0, "longitude": 8.0, "altitude_m": 250}
    plane = {"name": PLANE, "tilt_deg": 30, "azimuth_deg": 180, "mounting": "roof-parallel"}
    most = max(sum(each["groups"][0]["modules"] for each in own) for own in wanted.values())
    plane |= {"modules": most, "module_type": "M430"}
    mppt = MPPT | {"connectors": max(map(len, wanted.values()))} | parts.get("mppt", {})
    content = {
        "schema_version": 1,
        "invented": True,
        "site": place
        | {"time_zone": "UTC+01:00"}
        | ({"design_temperatures": TEMPERATURES} if cold_known else {})
        | parts.get("site", {}),
        "weather": {"file": YEAR.stem, "format": "canonical"} | parts.get("weather", {}),
        "module_types": [MODULE | parts.get("module", {})],
        "planes": [plane | parts.get("plane", {})],
        "inverter": INVERTER | {"mppts": [mppt]} | parts.get("inverter", {}),
        "standards": {"strings": "iec-62548-2016"} | parts.get("standards", {}),
        "wirings": [
            {"name": name, "trackers": [{"mppt": "1", "strings": own}]}
            for name, own in wanted.items()
        ],
    }
    content |= {"grid": parts["grid"]} if "grid" in parts else {}
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(content), encoding="utf-8")
    return path


def string_of(modules):
    """Return a string of so many modules."""
    return {"groups": [{"plane": PLANE, "modules": modules}]}


def asked(capsys, *words):
    """Run a command; return its exit code and all it says."""
    code = cli.main([str(word) for word in words])
    said = capsys.readouterr()
    return code, " ".join((said.out + said.err).split())


def checked(capsys, path):
    """Return the exit code of `check` and its findings by name, the first of each."""
    code = cli.main(["check", str(path), "--json"])
    found = {}
    for each in json.loads(capsys.readouterr().out)["findings"]:
        found.setdefault(each["check"], each)
    return code, found


def finding(capsys, path, name):
    """Return the first finding of a name."""
    _, found = checked(capsys, path)
    assert name in found, f"there is no check of: {name}"
    return found[name]


def energy(said):
    """Return the energy that `simulate` told [kWh]."""
    return float(re.search(r"own: ([\d,]+) kWh", said).group(1).replace(",", ""))


def days_of_year(path, first, last, change=None):
    """Write the days from one month and day to another of the shipped year into a file.

    A function may change each row, or drop it by returning nothing.
    """
    head, columns, *rows = YEAR.read_text(encoding="utf-8").splitlines()
    kept = [row.split(",") for row in rows if first <= row[5:10] <= last]
    changed = [row if change is None else change(row) for row in kept]
    lines = [",".join(row) for row in changed if row is not None]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join([head, columns, *lines, ""]), encoding="utf-8")
    return path
