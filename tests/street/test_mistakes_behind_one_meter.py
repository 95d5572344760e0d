"""What a stranger does wrong in a file of several inverters: one sentence from another folder."""

import copy

import pandas as pd
import pytest
import yaml

from tests.street import oracle
from tests.street.houses import SHARED_METERS, build
from tests.street.walk import run

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    """Return the folder of a house of three inverters, and its file's content."""
    (house,) = [each for each in SHARED_METERS if each.folder == "three_sheds"]
    site_file, _ = build(house, tmp_path_factory.mktemp("street"))
    (site_file.parent / "desk").mkdir()
    return site_file.parent, oracle.read_site(site_file)


def told(yard, command, path, value):
    """Return what a command says of the file with one value replaced or taken out."""
    folder, content = yard
    content = copy.deepcopy(content)
    part = content
    for key in path[:-1]:
        part = part[key]
    if value is None:
        del part[path[-1]]
    else:
        part[path[-1]] = value
    (folder / "mistaken.yaml").write_text(yaml.safe_dump(content, sort_keys=False), "utf-8")
    return run([command, "../mistaken.yaml"], folder / "desk")


TRACKER = ("wirings", 0, "trackers", 0)
IN_THE_FILE = {
    "another inverter": (
        (*TRACKER, "inverter"),
        "kilnn",
        "wirings.0.trackers.0.inverter: got the inverter 'kilnn'; expected one of 'kiln', "
        "'saw mill behind the yard', 'office'. Did you mean 'kiln'?",
    ),
    "no inverter": (
        (*TRACKER, "inverter"),
        None,
        "got an input without its inverter; expected one of 'kiln', 'saw mill behind the yard', ",
    ),
    "another's input": (
        (*TRACKER, "mppt"),
        "only",
        "wirings.0.trackers.0.mppt: got the MPPT input 'only'; expected one of 'left', 'right'.",
    ),
    "a type cut short": (
        ("inverters", 0, "type"),
        "Kiln",
        "inverters.0.type: got the inverter type 'Kiln'; expected one of 'Saw inverter 15 kW (",
    ),
    "no list of inverters": (
        ("inverters",),
        None,
        "inverters: got no inverter; expected inverters: a list of them.",
    ),
    "a load that is not there": (
        ("grid", "load", "file"),
        "meter/nothing.csv",
        "grid.load.file: got 'meter/nothing.csv', which is not there; expected a file that is "
        "there. Paths count from the site file's folder.",
    ),
    "a load of words": (
        ("grid", "load"),
        "400 W",
        "grid.load: got '400 W'; expected keys and values.",
    ),
    "a word for sharing": (
        ("grid", "export_sharing"),
        "equal",
        "grid.export_sharing: got 'equal'; expected one of 'proportional', 'in-order'.",
    ),
    "volts where shares are asked for": (
        ("inverters", 1, "reactive"),
        {"kind": "q-of-u", "points": [[0.9, 0.4], [240, -0.3]]},
        "inverters.1.reactive.points.1.0: got 240; expected a number of at most 2.",
    ),
    "phases mixed": (
        ("inverter_types", 2, "ac"),
        {"nominal_power_w": 3000, "max_current_a": 13.1, "phases": 1, "nominal_voltage_v": 230},
        "inverters.2.type: got 1 phases beside an inverter with 3; expected inverters of the same",
    ),
    "an unknown way": (
        ("inverters", 1, "reactive", "kind"),
        "by-voltage",
        "inverters.1.reactive.kind: got 'by-voltage'; expected one of 'fixed', 'cos-phi-of-p', ",
    ),
}


@pytest.mark.parametrize("name", IN_THE_FILE)
def test_a_mistake_in_the_file_is_one_sentence(yard, name):
    path, value, sentence = IN_THE_FILE[name]
    said = told(yard, "check", path, value)
    assert said.code == 2
    assert said.out == ""
    (line,) = said.err.strip().splitlines()
    assert line.startswith("yieldkit: mistaken.yaml")
    assert sentence in line


def test_a_curve_that_nobody_gives_is_asked_for_before_anything_is_made(yard):
    said = told(yard, "check", ("inverters", 1, "reactive"), {"kind": "q-of-u"})
    assert said.code == 2
    assert "saw mill behind the yard" in said.err
    assert "got q-of-u without points; expected points: the curve that the network" in said.err


def test_a_network_that_cannot_carry_the_load_names_the_hour(yard):
    grid = yard[1]["grid"]
    weak = grid | {"network_resistance_ohm": 4.9, "load": {"kind": "constant", "power_w": 60_000}}
    said = told(yard, "compare", ("grid",), weak)
    assert said.code == 2
    line = said.err.strip().splitlines()[-1]
    start = "yieldkit: grid: got no voltage at which the network could take the power at 2023-05-0"
    assert line.startswith(start)
    assert "Look at grid.network_resistance_ohm" in line


LOADS = {
    "negative": (lambda load: load - 600.0, "negative values, the first -"),
    "half a year": (lambda load: load[:17_000], "no load in 18,040 of a year's 35,040 steps"),
    "a gap": (lambda load: load.drop(load.index[500:508]), "no load in 8 of a year's 35,040"),
}


@pytest.mark.parametrize("name", LOADS)
def test_a_load_that_is_none_is_one_sentence(yard, name):
    folder, content = yard
    change, sentence = LOADS[name]
    table = pd.read_csv(folder / content["grid"]["load"]["file"], index_col=0)
    change(table["Load W"]).to_csv(folder / "meter" / "broken.csv")
    own = content["grid"]["load"] | {"file": "meter/broken.csv"}
    said = told(yard, "compare", ("grid", "load"), own)
    assert said.code == 2
    line = said.err.strip().splitlines()[-1]
    assert line.startswith("yieldkit: broken.csv, Load W: got ")
    assert sentence in line
