"""Measured light and temperature in files: by every command, without global light, of a plant."""

import numpy as np
import pandas as pd
import pytest
import yaml

from tests.archives import archive
from tests.config.small import TEXT
from tests.street.walk import run
from tests.study.batch.batches import put_plan, put_site, table
from yieldkit.base.errors import InputError
from yieldkit.base.measured_planes import measured_name
from yieldkit.config.site.files import load_site
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate
from yieldkit.study.simulation.weather import site_weather, weather_cautions
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame
from yieldkit.weather.readers.on_planes import PlaneSensor
from yieldkit.weather.readers.tables import canonical_text

PLANES = {"west roof": "G_W", "east roof": "G_E", "dormer": "G_D"}
KWH = r"([\d,]+) kWh delivered"

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder with the site and five days, measured on its planes as modelled."""
    place = tmp_path_factory.mktemp("measured")
    path = put_site(place)
    result = simulate(load_site(path))
    frame = pd.read_csv(place / "days.csv")
    for plane, column in PLANES.items():
        frame[column] = result["poa_global"].sel(plane=plane).to_numpy()
        frame[column.replace("G", "T")] = result["temp_cell"].sel(plane=plane).to_numpy()
    frame.to_csv(place / "days.csv", index=False)
    (place / "a desk elsewhere").mkdir()
    return place


def put(folder, name, change):
    """Write a variant of the site's file."""
    content = yaml.safe_load((folder / "site.yaml").read_text(encoding="utf-8"))
    change(content)
    (folder / name).write_text(yaml.safe_dump(content, sort_keys=False), encoding="utf-8")
    return folder / name


def measured(content, without=(), **more):
    """Let a site read what was measured on its planes."""
    columns = content["weather"]["columns"]
    columns |= {"poa_global": dict(PLANES), "temp_cell": {"west roof": "T_W"}, **more}
    for key in without:
        del columns[key]


def energy(said):
    """Return what a simulation delivers by what it says [kWh]."""
    return float(pd.Series(said.out).str.extract(KWH)[0][0].replace(",", ""))


def test_every_command_takes_measured_planes(folder):
    put(folder, "own.yaml", measured)
    desk = folder / "a desk elsewhere"
    plain = run(["simulate", "../site.yaml"], desk)
    said = run(["simulate", "../own.yaml", "--out", "saved"], desk)
    assert (plain.code, said.code) == (0, 0), said.err
    assert energy(said) == energy(plain)
    for command, codes in (
        (["check", "../own.yaml"], (0, 1, 4)),
        (["compare", "../own.yaml", "--no-report"], (0,)),
        (["propose", "../own.yaml", "--no-report", "--draws", "4", "--leave-out", "7"], (0,)),
    ):
        told = run(command, desk)
        assert told.code in codes, f"{command}: {told.err}"


def snowed_on(content):
    """Let a site read rain and snow: dirt on two planes, snow from snowfall on all."""
    measured(content, rain="rain", snowfall="snow", snow_depth="deep")
    content["site"]["snow"] = {"kind": "from-snowfall", "covering_cm_per_h": 0.5}
    west, east, dormer = content["planes"]
    west["soiling_from_rain"] = {"model": "kimber"}
    east["soiling_from_rain"] = {"model": "hsu", "pm2_5_ug_m3": 10, "pm10_ug_m3": 25}
    dormer["soiling_by_month_percent"] = [2.0] * 12
    for plane, drawing in ((west, ["M" * 9] * 3), (east, ["M" * 7] * 2), (dormer, ["M" * 7])):
        plane |= {"drawing": drawing, "layout": "portrait"}


def test_every_command_takes_dirt_and_snow(folder):
    frame = pd.read_csv(folder / "days.csv")
    hours = np.arange(len(frame))
    frame["rain"], frame["deep"] = np.where(hours == 50, 9.0, 0.0), 20.0
    frame["snow"] = np.where(hours % 24 == 5, 2.0, 0.0)
    frame.to_csv(folder / "snowy.csv", index=False)

    def snowy(content):
        snowed_on(content)
        content["weather"]["file"] = "snowy.csv"

    put(folder, "snowy.yaml", snowy)
    desk = folder / "a desk elsewhere"
    said = run(["simulate", "../snowy.yaml", "--out", "snowed"], desk)
    assert said.code == 0, said.err
    for step in ("soiling", "snow"):
        assert f"  - {step} " in said.out
    assert "Measured, not modelled: light on west roof" in " ".join(said.out.split())
    plan = """\
        base: snowy.yaml
        axes:
          - {kind: key, name: slides, path: site.snow.slides_per_h, values: [0.1, 0.2]}
          - {kind: key, name: dust, path: planes.east roof.soiling_from_rain.pm10_ug_m3,
             values: [25, 500]}
        wirings: [one plane per tracker]
        """
    put_plan(folder, plan, "snowy plan.yaml")
    for command, where in (
        (["check", "../snowy.yaml"], desk),
        (["compare", "../snowy.yaml", "--no-report"], desk),
        (["propose", "../snowy.yaml", "--no-report", "--draws", "4", "--leave-out", "7"], desk),
        (["sweep", "snowy plan.yaml", "--out", "snowy runs"], folder),
    ):
        told = run(command, where)
        assert told.code in (0, 1, 4), f"{command}: {told.err}"
        if command[0] == "propose":
            assert "were simulated in snow, where their modules lie" in " ".join(told.out.split())
    energies = {row["energy_kwh"] for row in table(folder / "snowy runs").to_pylist()}
    assert len(energies) == 4


def test_planes_that_differ_in_measurements_alone_are_not_found_as_one_another(folder):
    def twins(content):
        first, second, _ = content["planes"]
        alike = {key: value for key, value in first.items() if key not in ("name", "modules")}
        second |= alike
        content["weather"]["columns"]["poa_global"] = {"east roof": "G_E"}

    put(folder, "twins.yaml", twins)
    plan = put_plan(
        folder,
        """\
        base: twins.yaml
        axes:
          - {kind: key, name: lead, path: grid.lead.length_m, values: [6, 18]}
        wirings: [one plane per tracker]
        """,
    )
    assert run(["sweep", plan.name, "--out", "runs"], folder).code == 0
    rows = table(folder / "runs").to_pylist()
    alone = simulate(load_site(folder / "twins.yaml"))
    ours = {row["lead"]: row["energy_kwh"] for row in rows}
    assert ours[6] == pytest.approx(alone.attrs["energy_kwh"], rel=0.01)
    west, east = alone["plane_irradiation"].to_numpy()[:2]
    assert west != east
    exact = load_site(folder / "twins.yaml").variant({"grid.lead.length_m": 6.0})
    assert ours[6] == simulate(exact).attrs["energy_kwh"]


def test_a_sensors_gain_is_taken_out(folder):
    def gained(content):
        measured(content)
        content["weather"]["sensors"] = [{"plane": "west roof", "gain": 1.25}]

    plain = load_site(put(folder, "plain.yaml", measured))
    site = load_site(put(folder, "gain.yaml", gained))
    ours, theirs = site_weather(site), site_weather(plain)
    name = measured_name("poa_global", "west roof")
    np.testing.assert_allclose(ours[name] * 1.25, theirs[name], rtol=1e-12)
    assert ours[name].attrs["sensor_gain"] == 1.25
    assert any(", gain 1.25;" in text for text in prepare(site, ours).assumptions)


def test_a_file_without_global_light_is_turned_back(folder):
    site = load_site(put(folder, "bare.yaml", lambda own: measured(own, ("ghi", "dni", "dhi"))))
    whole = simulate(load_site(folder / "site.yaml"))
    weather = site_weather(site)
    result = simulate(site, weather=weather)
    np.testing.assert_allclose(result["poa_global"], whole["poa_global"], atol=1e-9)
    # Direct and diffuse are modelled: they share the same light out over the glass otherwise.
    assert result.attrs["energy_kwh"] == pytest.approx(whole.attrs["energy_kwh"], rel=0.01)
    known = site_weather(load_site(folder / "site.yaml"))["ghi"].to_numpy()
    bright = known > 100.0
    assert abs(weather["ghi"].to_numpy()[bright].sum() / known[bright].sum() - 1.0) < 0.03
    said = " ".join(prepare(site, weather).assumptions)
    assert (
        "Direct and diffuse irradiance by erbs-driesse, so that they give what the sensors of "
        "light on planes read." in said
    )
    assert any(
        "light measured on planes alone doesn't show whether the clock is right; look at a clear "
        "day: a sensor that faces east should read most before about 12:28 of the file's clock, "
        "one that faces west after it." in text
        for text in weather_cautions(weather)
    )


def test_what_is_turned_back_gives_the_light_that_was_measured(folder):
    def one(content):
        content["planes"] = content["planes"][:1]
        content["wirings"] = [content["wirings"][0]]
        content["wirings"][0]["trackers"] = content["wirings"][0]["trackers"][:1]

    def bare(content):
        one(content)
        columns = content["weather"]["columns"]
        columns["poa_global"] = {"west roof": "G_W"}
        for key in ("ghi", "dni", "dhi"):
            del columns[key]

    weather = site_weather(load_site(put(folder, "one bare.yaml", bare)))
    site = load_site(put(folder, "one.yaml", one))
    kept = weather.drop_vars(measured_name("poa_global", "west roof"))
    again = simulate(site, weather=kept)["poa_global"].to_numpy()[:, 0]
    reads = weather[measured_name("poa_global", "west roof")].to_numpy()
    bright = reads > 150.0
    np.testing.assert_allclose(again[bright], reads[bright], rtol=1e-6)


def test_our_own_form_holds_columns_of_planes(folder):
    weather = site_weather(load_site(put(folder, "again.yaml", measured)))
    local = weather.indexes["time"] + pd.Timedelta(hours=1)
    frame = pd.DataFrame({name: weather[name].to_numpy() for name in weather.data_vars}, local)
    meta = {"title": "own", "latitude": 45.0, "longitude": 8.0, "altitude_m": 200.0}
    meta |= {"time_zone": "UTC+01:00", "wind_height_m": 10.0, "sampling": "mean"}
    (folder / "own.csv").write_text(canonical_text(frame, meta), encoding="utf-8")

    def canonical(content):
        content["weather"] = {"file": "own.csv", "format": "canonical"}

    site = load_site(put(folder, "canonical.yaml", canonical))
    result = simulate(site)
    whole = simulate(load_site(folder / "again.yaml"), weather=weather)
    np.testing.assert_allclose(result["poa_global"], whole["poa_global"], rtol=1e-9)


def test_a_column_that_is_not_there_is_named(folder):
    (folder / "few.csv").write_text((folder / "own.csv").read_text(encoding="utf-8"), "utf-8")

    def canonical(content):
        content["weather"] = {"file": "few.csv", "format": "canonical"}
        content["weather"]["columns"] = {"time": "time", "ghi": "ghi", "temp_air": "temp_air"}
        content["weather"]["columns"]["poa_global"] = {"west roof": "G_X"}

    def table(content):
        measured(content)
        content["weather"]["columns"]["poa_global"] = {"west roof": "G_X"}

    for name, change in (("few canonical.yaml", canonical), ("few table.yaml", table)):
        with pytest.raises(InputError, match=r"csv, columns: got .*; expected 'G_X'"):
            site_weather(load_site(put(folder, name, change)))


@pytest.mark.parametrize(
    ("value", "column", "said"),
    [
        (1700.0, "G_W", r"poa_global of west roof: got 1700 W/m2.* from -10 to 1600"),
        (-11.0, "G_W", r"poa_global of west roof: got -11 W/m2.* from -10 to 1600"),
        (200.0, "T_W", r"temp_cell of west roof: got 200 degC.* from -90 to 130"),
    ],
)
def test_what_no_plane_gets_is_refused(folder, value, column, said):
    frame = pd.read_csv(folder / "days.csv")
    frame.loc[30, column] = value
    frame.to_csv(folder / "wrong.csv", index=False)

    def wrong(content):
        measured(content)
        content["weather"]["file"] = "wrong.csv"

    with pytest.raises(InputError, match=said):
        site_weather(load_site(put(folder, "wrong.yaml", wrong)))
    told = run(["simulate", "wrong.yaml"], folder)
    assert told.code == 2
    assert "Traceback" not in told.err


def test_a_nights_offset_is_no_light(folder):
    frame = pd.read_csv(folder / "days.csv")
    frame.loc[:3, "G_W"] = -4.0
    frame.to_csv(folder / "offset.csv", index=False)

    def offset(content):
        measured(content)
        content["weather"]["file"] = "offset.csv"

    weather = site_weather(load_site(put(folder, "offset.yaml", offset)))
    assert (weather[measured_name("poa_global", "west roof")].to_numpy()[:4] == 0.0).all()


def test_two_temperatures_of_a_plane_are_refused_in_a_frame():
    times = pd.date_range("2021-06-01", periods=24, freq="h", tz="UTC")
    frame = pd.DataFrame({"ghi": 0.0, "temp_air": 9.0}, index=times)
    frame = frame.assign(**{"temp_cell of west": 9.0, "temp_module of west": 9.0})
    place = Station(45.0, 8.0, 200.0, 3600, 10.0)
    with pytest.raises(
        InputError, match=r"temp_cell of west beside temp_module of west; expected one temperature"
    ):
        from_frame(frame, place, Sampling("mean"))


def test_light_on_planes_alone_needs_how_its_sensors_lie():
    times = pd.date_range("2021-06-01", periods=24, freq="h", tz="UTC")
    frame = pd.DataFrame({"poa_global of west": 100.0, "temp_air": 9.0}, index=times)
    place = Station(45.0, 8.0, 200.0, 3600, 10.0)
    with pytest.raises(InputError, match=r"without how its sensor lies, and no global irradiance"):
        from_frame(frame, place, Sampling("mean"))


def serf(folder):
    """Write a measured plant's clear days: light, module temperature and DC power, 15 minutes."""
    name = "serf_west_15min.csv"
    source = archive("pvanalytics==0.2.2") / "pvanalytics" / "data" / name
    raw = pd.read_csv(source, index_col=0, parse_dates=True)
    # Before and after these days the file has outages and what looks like snow.
    raw = raw.loc["2022-01-04":"2022-01-05"]
    table = pd.DataFrame(
        {
            "when": raw.index.strftime("%Y-%m-%d %H:%M"),
            "light": raw["poa_irradiance__771"],
            "back": raw["module_temp_1__781"],
            "air": raw["ambient_temp__780"],
        }
    )
    table.to_csv(folder / "plant.csv", index=False)
    return raw["dc_power__772"].to_numpy()


SERF = {
    "file": "plant.csv",
    "sampling": "snapshot",
    "sun_offset_min": 0,
    "columns": {
        "time": "when",
        "temp_air": "air",
        "poa_global": {"west": "light"},
        "temp_module": {"west": "back"},
    },
}
"""How its weather is read."""


def test_a_measured_plants_power_follows_its_light_and_temperature(tmp_path):
    measured_w = serf(tmp_path)
    content = yaml.safe_load(TEXT)
    content["site"] |= {"latitude": 39.742, "longitude": -105.173, "time_zone": "UTC-07:00"}
    content["site"]["altitude_m"] = 1800
    content["weather"] = SERF | {"format": "csv", "zone": "UTC-07:00"}
    # 6 kW of rated power (assumed), on a frame at 45 degrees, 158 degrees from north.
    plane = content["planes"][0] | {"tilt_deg": 45, "azimuth_deg": 158, "modules": 11}
    content["planes"] = [plane]
    string = {"groups": [{"plane": "west", "modules": 11}]}
    content["wirings"] = [{"name": "own", "trackers": [{"mppt": "A", "strings": [string]}]}]
    (tmp_path / "site.yaml").write_text(yaml.safe_dump(content), encoding="utf-8")
    site = load_site(tmp_path / "site.yaml")
    result = simulate(site)
    ours = result["p_dc"].to_numpy()[:, 0]
    run_time = measured_w > 300.0
    assert run_time.sum() > 50
    # Accuracy that is normal: power in proportion within 8 to 10 % of the mean, by the hour.
    scale = measured_w[run_time].sum() / ours[run_time].sum()
    error = measured_w[run_time] - scale * ours[run_time]
    assert np.sqrt(np.mean(error**2)) / measured_w[run_time].mean() < 0.10
    assert 0.85 < scale < 1.1


def test_light_measured_on_a_rack_gives_the_global_light_that_was_measured_beside_it():
    # A week of minutes with a pyranometer lying level and one at 40 degrees to the south.
    source = archive("captest==0.17.0") / "tests" / "data" / "nrel_data.csv"
    hours = pd.read_csv(source, index_col=0, parse_dates=True).resample("60min").mean()
    hours.columns = ["level", "poa_global of rack", "temp_air", "wind_speed"]
    hours.index = hours.index.tz_localize("Etc/GMT+7")
    sensor = PlaneSensor("rack", "pyranometer", 40.0, 180.0, 1.0)
    place = Station(39.742, -105.18, 1829.0, -7 * 3600, 6.0)
    found = from_frame(hours.iloc[:, 1:], place, Sampling("mean"), sensors=[sensor])["ghi"]
    ours, theirs = found.to_numpy(), hours["level"].to_numpy()
    lit = theirs > 20.0
    assert abs(ours[lit].sum() / theirs[lit].sum() - 1.0) < 0.01
    assert np.sqrt(np.mean((ours - theirs)[lit] ** 2)) / theirs[lit].mean() < 0.05
