"""A published year whose zone of five and a half hours was cut to five by its decimal comma."""

import io
import re

import numpy as np
import pandas as pd
import pvlib
import pytest
import yaml

import yieldkit
from tests.archives import archive
from tests.config.dumped import dump_site
from tests.study.sites import demo_mapping
from yieldkit.cli.main import main
from yieldkit.config.site.files import site_from_mapping
from yieldkit.study.simulation.weather import site_weather, weather_cautions
from yieldkit.weather.readers.read import read_weather
from yieldkit.weather.readers.source import Source

pytestmark = pytest.mark.slow

PLACE = (23.015, 72.592, 49.0)
WHOLE_REMEDY = (
    "To mend it write into the weather block zone: UTC+05:00, sampling: mean, label: middle (or "
    "snapshot, sun_offset_min: 0), or zone: UTC+05:30, sampling: mean, label: start."
)
TOO_MANY = (
    "The first line of the weather file has a value too many, '5,5,49': is its zone 5.5 h with a "
    "decimal comma? It was read as UTC+05:00; if so, write into the weather block zone: UTC+05:30."
)


def published():
    """Return the file (GPL-3, read only): its header says zone 5, then 5, then the altitude."""
    name = "Current_Ahmedabad-hour.epw"
    return next(archive("accim-samples==0.8.2").rglob(name))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder with the whole year, and with twelve days of its March alone."""
    into = tmp_path_factory.mktemp("half")
    text = published().read_text(encoding="latin-1")
    (into / "year.epw").write_text(text, encoding="utf-8")
    lines = text.splitlines(keepends=True)
    march = [line for line in lines[8:] if line.split(",")[1] == "03"][: 12 * 24]
    assert len(march) == 288
    (into / "march.epw").write_text("".join(lines[:8] + march), encoding="utf-8")
    return into


def house(folder, file, **weather):
    """Return two slopes, east and west, on an input each."""
    content = demo_mapping()
    string = ({"groups": ({"plane": "east", "modules": 14},)},)
    other = ({"groups": ({"plane": "west", "modules": 14},)},)
    first, second = (each["name"] for each in content["inverter"]["mppts"][:2])
    plane = {
        "tilt_deg": 35.0,
        "modules": 14,
        "module_type": content["module_types"][0]["name"],
        "mounting": "roof-parallel",
    }
    east = {"mppt": first, "strings": string}
    west = {"mppt": second, "strings": other}
    return site_from_mapping(
        {
            **content,
            "site": {
                **content["site"],
                "latitude": PLACE[0],
                "longitude": PLACE[1],
                "altitude_m": PLACE[2],
                "time_zone": "UTC+05:30",
            },
            "weather": {"file": file, "format": "epw", **weather},
            "models": {**content["models"], "transposition": "hay-davies"},
            "planes": (
                {"name": "east", "azimuth_deg": 90.0, **plane},
                {"name": "west", "azimuth_deg": 270.0, **plane},
            ),
            "wirings": (
                {"name": "both", "trackers": (east, west)},
                {"name": "east only", "trackers": (east,)},
                {"name": "west only", "trackers": (west,)},
            ),
        },
        folder=folder,
    )


def ways(cautions):
    """Return every way of mending that the caution names, as keys of the weather block."""
    told = re.search(r"write into the weather block (zone: .*)\.$", cautions[0])[1]
    found = []
    for way in re.split(r", or (?=zone: )", told):
        plain, _, snapshot = way.partition(" (or ")
        found.append(yaml.safe_load(f"{{{plain}}}"))
        if snapshot:
            zone = found[-1]["zone"]
            found.append(yaml.safe_load(f"{{sampling: {snapshot.rstrip(')')}}}") | {"zone": zone})
    return found


def in_plane(azimuth):
    """Return a year's irradiation of a slope by an oracle of its own [kWh/m2].

    Rows by the published columns (global 13, direct 14, diffuse 15), each hour's sun at its
    middle by a clock of five and a half hours, sky evenly bright round the sun (Hay and Davies).
    """
    text = published().read_text(encoding="latin-1").split("\n", 8)[8]
    rows = pd.read_csv(io.StringIO(text), header=None, usecols=[1, 2, 3, 13, 14, 15])
    local = pd.to_datetime(
        {"year": 2018, "month": rows[1], "day": rows[2], "hour": rows[3] - 1, "minute": 30}
    )
    times = pd.DatetimeIndex(local - pd.Timedelta(hours=5.5), tz="UTC")
    sun = pvlib.solarposition.get_solarposition(times, *PLACE)
    ghi, dni, dhi = (rows[place].to_numpy() for place in (13, 14, 15))
    lit = pvlib.irradiance.get_total_irradiance(
        35.0,
        azimuth,
        sun["apparent_zenith"].to_numpy(),
        sun["azimuth"].to_numpy(),
        dni,
        ghi,
        dhi,
        dni_extra=pvlib.irradiance.get_extra_radiation(times.day_of_year.to_numpy()),
        albedo=0.2,
        model="haydavies",
    )
    return float(np.nansum(lit["poa_global"])) / 1000.0


def yields(folder, **weather):
    """Return the slopes' yields [kWh] and in-plane irradiations [kWh/m2], and the cautions."""
    found = yieldkit.compare(house(folder, "year.epw", **weather))
    light = found.prepared.planes["poa_global"].sum("time") / 1000.0
    made = found.table["energy_kwh"][["east only", "west only"]]
    return made.to_numpy(), light.to_numpy(), weather_cautions(found.prepared.weather)


def test_every_remedy_brings_the_yield_right(folder):
    made, light, cautions = yields(folder)
    assert cautions[0].endswith(WHOLE_REMEDY)
    assert cautions[1] == TOO_MANY
    told = ways(cautions)
    assert [sorted(way) for way in told] == [
        ["label", "sampling", "zone"],
        ["sampling", "sun_offset_min", "zone"],
        ["label", "sampling", "zone"],
    ]
    right = np.array([in_plane(90.0), in_plane(270.0)])
    assert light / right == pytest.approx([0.945, 1.06], abs=0.01)
    mended = [yields(folder, **way) for way in told]
    for own, seen, left in mended:
        assert left == ()
        assert seen == pytest.approx(right, rel=0.005)
        assert own == pytest.approx(mended[0][0], rel=0.0005)
    assert 100.0 * (made / mended[0][0] - 1.0) == pytest.approx([-5.5, 5.7], abs=0.3)


def test_the_altitude_behind_the_comma_is_read_with_the_zone():
    cut = read_weather(published(), "epw")
    assert (cut.attrs["altitude_m"], cut.attrs["time_zone"]) == (5.0, "UTC+05:00")
    whole = read_weather(published(), "epw", Source(zone="UTC+05:30"))
    assert (whole.attrs["altitude_m"], whole.attrs["time_zone"]) == (49.0, "UTC+05:30")
    other = read_weather(published(), "epw", Source(zone="UTC+05:00", label="middle"))
    assert other.attrs["altitude_m"] == 5.0


def test_a_value_too_many_that_is_no_zone_is_passed_over(folder):
    text = (folder / "march.epw").read_text(encoding="utf-8")
    for last in ("5,3,49", "5,5,high"):
        (folder / "odd.epw").write_text(text.replace("5,5,49", last, 1), encoding="utf-8")
        found = site_weather(house(folder, "odd.epw"))
        assert len(weather_cautions(found)) == 1


@pytest.mark.parametrize("command", ["check", "simulate", "compare", "propose"])
def test_every_command_tells_it_with_the_whole_remedy(folder, capsys, command):
    (folder / "site.yaml").write_text(dump_site(house(folder, "march.epw")), encoding="utf-8")
    more = {"compare": ["--no-report"], "propose": ["--no-report", "--draws", "0"]}.get(command, [])
    assert main([command, str(folder / "site.yaml"), *more]) in (0, 1, 4)
    said = capsys.readouterr().err
    assert "Caution: Clock of the weather file: values hold +0 minutes from the time" in said
    assert WHOLE_REMEDY in said
    assert f"Caution: {TOO_MANY}" in said
