"""The file that `new` writes: as it is, with each optional part put in, and with each left out."""

import json
import re

import pandas as pd
import pytest
import yaml

from tests.street import oracle
from tests.street.house_checks import KWH, POA
from tests.street.walk import run
from yieldkit.base.shipped import shipped

pytestmark = pytest.mark.slow

# A line that waits behind its sign: a key with or without a value, or an entry of a list.
_WAITING = re.compile(r"^( *)# ( *(?:- )?(?:[a-z_0-9]+:|\{).*)$")
_FIRST_KEY = "schema_version"
_PLACES = ("layout", "drawing", "length_m", "width_m")
_CORNERS = (*_PLACES, "corner_m")
_GO_WITH = {
    "cable_exit": _PLACES,
    "corner_m": _CORNERS,
    "obstacles": _CORNERS,
    "snow": ("slant_height_m",),
}
"""Parts that say nothing without others: cable lengths and shadows follow from places and sizes."""
_MAY_BE_LEFT_OUT = (
    "invented",
    "  albedo",
    "  building",
    "    alpha_sc",
    "    beta_voc",
    "    gamma_pmp",
    "    cell_layout",
    "    bypass_diodes",
    "      stop_voltage_v",
    "    load_at_maximum",
    "  night_power_w",
)


@pytest.fixture(scope="module")
def starter(tmp_path_factory):
    """Return the folder and the text of a fresh site file."""
    folder = tmp_path_factory.mktemp("starter")
    said = run(["new", "my.yaml"], folder)
    assert said.code == 0, said.err
    return folder, (folder / "my.yaml").read_text(encoding="utf-8")


def parts(text):
    """Return the waiting parts: for each the numbers of the lines that belong together."""
    found, last_depth = [], None
    started = False
    for number, line in enumerate(text.splitlines()):
        started = started or line.startswith(_FIRST_KEY)
        match = _WAITING.match(line) if started else None
        if match is None:
            last_depth = None
            continue
        depth = len(match[1]) + len(match[2]) - len(match[2].lstrip())
        if last_depth is not None and depth > last_depth:
            found[-1].append(number)
            continue
        found.append([number])
        last_depth = depth
    return found


def with_parts(text, chosen):
    """Return the file with some waiting parts put in."""
    lines = text.splitlines()
    for number in (number for part in chosen for number in part):
        lines[number] = _WAITING.sub(r"\1\2", lines[number])
    return "\n".join(lines) + "\n"


def tried(starter, name, text, *command):
    """Run a command on a variant of the file, from its folder."""
    folder, _ = starter
    (folder / name).write_text(text, encoding="utf-8")
    return run([command[0], name, *command[1:]], folder)


def test_it_compares_as_it_is(starter):
    said = tried(starter, "as-it-is.yaml", starter[1], "compare", "--no-report")
    assert said.code == 0, said.err
    assert said.out.startswith("'one plane per tracker' yields most")
    # Nothing of limits is known in it: nothing may be called permitted.
    assert "best of those with nothing forbidden" in " ".join(said.out.split())
    assert tried(starter, "as-it-is.yaml", starter[1], "check").code == 4


def shipped_year(place):
    """Return the shipped typical year as it is written: local times, snapshots after the hour."""
    path = shipped("weather", "typical-year-45n-8e.csv")
    told = json.loads(path.read_text(encoding="utf-8").split("\n", 1)[0].split(":", 1)[1])
    table = pd.read_csv(path, comment="#", index_col="time", parse_dates=True)
    table.index = (table.index - pd.Timedelta(hours=1)).tz_localize("UTC")
    table.attrs = {"offset_h": 1.0, "wind_height_m": told["wind_height_m"], "station": place}
    return table, told["sun_offset_s"] / 60.0


def test_its_energies_are_those_of_a_second_opinion(starter):
    folder, text = starter
    site = yaml.safe_load(text)
    roofs = oracle.roofs(site, *shipped_year(site["site"]))
    for wiring in site["wirings"]:
        name = wiring["name"]
        said = tried(starter, "own.yaml", text, "simulate", "--wiring", name, "--out", "results")
        assert said.code == 0, said.err
        year = oracle.year(roofs, wiring)
        told = float(re.search(r": ([\d,]+) kWh delivered", said.out)[1].replace(",", ""))
        assert told == pytest.approx(year.delivered_kwh, rel=KWH), name
    for plane in ("east", "west"):
        (saved, *_) = (folder / "results").glob("*-series.csv")
        found = pd.read_csv(saved)[f"poa_global {plane} [W/m2]"].sum() / 1000.0
        assert found == pytest.approx(roofs.kwh(roofs.light[plane]["poa"]), rel=POA), plane


def test_every_waiting_part_may_be_put_in(starter):
    text = starter[1]
    found = parts(text)
    assert len(found) > 25
    keys = [text.splitlines()[part[0]].strip("# ").split(":")[0] for part in found]
    for key, part in dict(zip(keys, found, strict=True)).items():
        with_it = _GO_WITH.get(key, ())
        needed = [own for own, other in zip(found, keys, strict=True) if other in with_it]
        needed = [own for own in needed if own != part]
        said = tried(starter, "one-more.yaml", with_parts(text, [part, *needed]), "check")
        assert said.code in (1, 4), f"{key}: {said.err}"


def test_all_parts_together_compare(starter):
    full = with_parts(starter[1], parts(starter[1]))
    said = tried(starter, "full.yaml", full, "compare", "--no-report")
    assert said.code == 0, said.err
    said = tried(starter, "full.yaml", full, "simulate")
    assert said.code == 0, said.err


@pytest.mark.parametrize("key", _MAY_BE_LEFT_OUT)
def test_every_optional_key_may_be_left_out(starter, key):
    lines = starter[1].splitlines()
    kept = [line for line in lines if not line.startswith(f"{key}:")]
    assert len(kept) < len(lines)
    said = tried(starter, "one-less.yaml", "\n".join(kept), "check")
    assert said.code == 4, said.err
