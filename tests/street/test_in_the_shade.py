"""A barn in the shade of a flue, a tree, a neighbour's roof and its own eaves."""

import json
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import yieldkit
from tests.street import oracle_cells, oracle_joint, oracle_shade, oracle_sky
from tests.street.house_checks import CHECKS, KWH, kwh, value
from tests.street.page_checks import PAGE_CHECKS, first_screen
from tests.street.walk import run

pytestmark = pytest.mark.slow
_BY_DAY = 0.05
"""Points of the day's clock are five minutes long: so much of an hour a reading may be off [h]."""


@pytest.fixture(scope="module")
def barn(street):
    """Return the walk through the barn."""
    return street("walnut_barn")


@pytest.mark.parametrize("check", [*CHECKS, *PAGE_CHECKS], ids=lambda check: check.__name__)
def test_house(barn, check):
    check(barn)


def test_no_page_calls_the_shade_left_out(barn):
    for said, folder, page in (
        (barn.compared, "compared", "compare_wirings.html"),
        (barn.proposed, "proposed", "propose_wirings.html"),
    ):
        screen = first_screen((barn.elsewhere / folder / page).read_text(encoding="utf-8"))
        for text in (screen, " ".join(said.out.split())):
            assert "Before far horizon, snow, fluctuation within the step, spectrum" in text


def test_a_page_without_obstacles_says_so_and_promises_more(barn):
    said = barn("compare", "--without-obstacles", "--out", "bare")
    assert said.code == 0, said.err
    assert "Without obstacles: every module is taken to have the light of its plane." in said.err
    screen = first_screen((barn.elsewhere / "bare" / "compare_wirings.html").read_text("utf-8"))
    assert "Before far horizon, near shade on single cell groups, snow" in screen
    assert best_kwh(said) > 1.3 * best_kwh(barn.compared)
    proposed = barn("propose", "--without-obstacles", "--no-report", "--top", "1", "--draws", "0")
    assert best_kwh(proposed) > 1.3 * best_kwh(barn.compared)
    assert "near shade on single cell groups" in " ".join(proposed.out.split())


def best_kwh(said):
    """Return the energy that an answer's first sentence promises [kWh]."""
    return float(re.search(r"([\d,]+) kWh", said.out.replace("\n", " ")).group(1).replace(",", ""))


PLAN = """\
base: site.yaml
axes:
  - {kind: key, name: flue, path: obstacles.flue.height_m, values: [0.5, 4.2]}
  - {kind: key, name: tilt, path: planes.lean-to.tilt_deg, values: [15, 25]}
wirings: [a plane each]
"""


def test_a_batch_gives_each_run_its_own_shade(barn):
    (barn.site_file.parent / "plan.yaml").write_text(PLAN, encoding="utf-8")
    said = run(["sweep", "../plan.yaml", "--out", "batch", "--workers", "1"], barn.elsewhere)
    assert said.code == 0, said.err
    table = pd.read_parquet(barn.elsewhere / "batch" / "runs.parquet")
    site = yieldkit.load_site(barn.site_file)
    for row in table.itertuples():
        own = site.variant(
            {"obstacles.flue.height_m": row.flue, "planes.lean-to.tilt_deg": row.tilt}
        )
        result = yieldkit.simulate(own, "a plane each")
        assert row.energy_kwh == result.attrs["energy_kwh"]
    by_run = table.set_index(["flue", "tilt"])["energy_kwh"]
    assert by_run[4.2, 15] == barn.results["a plane each"].attrs["energy_kwh"]
    assert by_run[0.5, 15] > 1.05 * by_run[4.2, 15]
    assert by_run[0.5, 25] != by_run[0.5, 15]


def two_inverters(site):
    """Return a site's file with an inverter for each plane instead of one for both."""
    content = {key: value for key, value in site.items() if key != "inverter_place"}
    kind = content.pop("inverter")
    names = [roof["name"] for roof in site["planes"]]
    lead = {"length_m": 8, "cross_section_mm2": 4, "installation_method": "B2"}
    first = site["wirings"][0]
    trackers = [
        {"inverter": name, **tracker}
        for name, tracker in zip(names, first["trackers"], strict=True)
    ]
    return content | {
        "schema_version": 2,
        "inverter_types": [kind],
        "inverters": [
            {
                "name": name,
                "type": kind["name"],
                "place": site["inverter_place"],
                "lead": lead | {"overcurrent_device_a": 20},
            }
            for name in names
        ],
        "wirings": [{"name": first["name"], "trackers": trackers}],
    }


def test_an_inverter_for_each_plane_sees_the_same_shade(barn):
    content = two_inverters(barn.site)
    path = barn.site_file.parent / "two.yaml"
    path.write_text(json.dumps(content), encoding="utf-8")
    said = run(["simulate", "../two.yaml", "--out", "two"], barn.elsewhere)
    assert said.code == 0, said.err
    saved = next(line[7:] for line in said.out.splitlines() if line.endswith(".nc"))
    result = xr.load_dataset(barn.elsewhere / saved)
    shared = replace(barn.roofs, site=content)
    own = oracle_joint.year(shared, content["wirings"][0])
    assert result.attrs["energy_kwh"] == pytest.approx(own.delivered_kwh, rel=KWH)
    one = kwh(barn.results["a plane each"], "obstacles: light missing")
    assert kwh(result, "obstacles: light missing") == pytest.approx(one, rel=1e-9)


def peak(walk, roof, light, temp_cell):
    """Return the largest power of a module of a plane in an even light [W]."""
    diode = oracle_cells.conditions(walk.roofs.types[roof["name"]], light, temp_cell)
    top = oracle_cells.pvsystem.max_power_point(*diode, method="brentq")
    return np.asarray(top["p_mp"]) * (1.0 + roof.get("power_deviation_percent", 0.0) / 100.0)


def test_so_much_light_is_missing(barn):
    missing = 0.0
    air = barn.table["temp_air"].to_numpy()[:, None]
    for roof in barn.site["planes"]:
        light, shade = barn.roofs.light[roof["name"]], barn.roofs.shade[roof["name"]]
        lit = light["effective"] > 0.0
        full, warm = light["effective"][lit][:, None], light["temp_cell"][lit][:, None]
        mean = shade.mean[lit]
        cells = air[lit] + (warm - air[lit]) * mean / full
        missing += len(shade.order) * peak(barn, roof, full, warm).sum()
        missing -= peak(barn, roof, mean, cells).sum()
    for result in barn.results.values():
        told = kwh(result, "obstacles: light missing")
        assert told == pytest.approx(missing / 1000.0, rel=KWH)
        assert told > 0.2 * result.attrs["energy_kwh"]
        assert kwh(result, "obstacles: darkest cell") > 0.03 * result.attrs["energy_kwh"]


def test_modules_without_direct_light_in_december(barn):
    place = barn.site["site"]
    times = pd.date_range("2021-12-20 23:02:30", periods=288, freq="5min", tz="UTC")
    solar = oracle_sky.position(times, (place["latitude"], place["longitude"], place["altitude_m"]))
    dark = np.zeros(len(times))
    for roof in barn.site["planes"]:
        facing = oracle_sky.irradiance.aoi(
            roof["tilt_deg"], roof["azimuth_deg"], solar["apparent_zenith"], solar["azimuth"]
        )
        before = (facing < 90.0).to_numpy() & (solar["apparent_zenith"] < 90.0).to_numpy()
        light = {"direct": np.where(before, 1.0, 0.0), "sky": dark, "ground": dark}
        shade = oracle_shade.plane(barn.site, roof, solar, light, 1.0)
        without = (shade.darkest.min(axis=(2, 3)) < 0.5) & before[:, None]
        check = "modules without direct light in midwinter"
        wiring = next(iter(barn.results))
        told = value(barn, wiring, check, roof["name"])
        assert told == without.any(axis=0).sum(), roof["name"]
        longest = (without.sum(axis=0) / 12.0).max()
        advice = value(barn, wiring, check, roof["name"], "advice")
        lit, said = (float(each) for each in re.findall(r" for ([\d.]+) h", advice)[:2])
        assert lit == pytest.approx(before.sum() / 12.0, abs=_BY_DAY + 1.0 / 12.0), advice
        assert said == pytest.approx(longest, abs=_BY_DAY + 1.0 / 12.0), advice
