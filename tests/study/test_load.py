"""The load behind the meter: units, clocks, days of the week, invented shapes, and self-use."""

import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.study.sites import NO_LOSSES_BEHIND, demo_mapping, weather
from yieldkit.base.errors import InputError
from yieldkit.config.reading.changes import changed
from yieldkit.config.site.files import site_from_mapping
from yieldkit.report.tables.energy import meter_table
from yieldkit.report.tables.terminal import result_text
from yieldkit.study.comparison.compare import compare
from yieldkit.study.simulation.connection_point import connection_point
from yieldkit.study.simulation.load import load_power
from yieldkit.study.simulation.load_shape import shape_power
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.self_use import why_upper_bound
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.trackers import Solutions

ZONE = "Europe/Berlin"
YEAR = 2023


def year_of(year=YEAR):
    """Return the demonstration's weather with the dates of another year, local midnight first."""
    start = np.datetime64(f"{year}-01-01") - np.timedelta64(1, "h")
    times = start + np.arange(8760) * np.timedelta64(1, "h")
    days = weather().assign_coords(time=times.astype("datetime64[ns]"))
    return days.assign_attrs(sampling="mean", label="start", sun_offset_s=0.0)


def site_with(load, folder="", changes=None):
    """Return the demonstration's site with a load."""
    content = changed(demo_mapping(), {"grid.load": load, **(changes or {})})
    return site_from_mapping(content, folder=str(folder))


def laid(load, folder="", on=None):
    """Return a load on the steps of a year [W]."""
    return load_power(prepare(site_with(load, folder), year_of() if on is None else on))


def local():
    """Return the standard time of the year's steps."""
    return pd.DatetimeIndex(year_of().indexes["time"]) + pd.Timedelta(hours=1)


def written(folder, times, values, **more):
    """Write a load's file and return its description."""
    pd.DataFrame({"time": times, "value": values}).to_csv(folder / "load.csv", index=False)
    return {"kind": "series", "file": "load.csv", **more}


def hours(year=YEAR, step="h"):
    """Return a calendar year's times."""
    return pd.date_range(f"{year}-01-01", f"{year + 1}-01-01", freq=step, inclusive="left")


@pytest.mark.parametrize(
    ("unit", "factor"), [("W", 1.0), ("kW", 1e-3), ("Wh", 0.25), ("kWh", 0.25e-3)]
)
def test_a_quarter_hour_s_energy_and_power_are_the_same_load(tmp_path, unit, factor):
    quarters = hours(step="15min")
    watts = 400.0 + np.arange(quarters.size) % 4 * 100.0
    found = laid(written(tmp_path, quarters, watts * factor, unit=unit), tmp_path)
    assert found[5000] == pytest.approx([400.0, 500.0, 600.0, 700.0], rel=1e-12)


@pytest.mark.parametrize("value", [0.41, 2.0])
def test_kilowatt_hours_called_watts_are_asked_about(tmp_path, value):
    load = written(tmp_path, hours(), np.full(8760, value))
    said = (
        f"got a mean of {value:g} W; expected at least 10 W on the average. Kilowatts, or "
        f"kilowatt-hours of each step? As kilowatts it is {value * 8760:,.0f} kWh. Write unit: kW"
    )
    with pytest.raises(InputError, match=re.escape(said)):
        laid(load, tmp_path)
    assert (laid({**load, "unit": "W"}, tmp_path) == value).all()


def test_watts_called_kilowatts_are_refused(tmp_path):
    load = written(tmp_path, hours(), np.full(8760, 5_000.0), unit="kW")
    said = r"got a mean of 5 MW; expected at most 2 MW on the average\. Watts called kilowatts"
    with pytest.raises(InputError, match=said):
        laid(load, tmp_path)


@pytest.mark.parametrize("year", [2018, 2019, 2022])
def test_days_of_the_week_are_those_of_the_weather_s_year(tmp_path, year):
    times = hours(year)
    load = written(tmp_path, times, 100.0 + times.day_of_week + times.hour / 100.0)
    found = laid(load, tmp_path)[:, 0]
    expected = 100.0 + local().day_of_week + local().hour / 100.0
    # A year is a day longer than 52 weeks: three days at its end can't all agree.
    assert (found == expected).sum() >= 24 * 362
    assert found.sum() == pytest.approx(sum(100.0 + times.day_of_week + times.hour / 100.0))


def test_a_file_of_several_years_gives_their_mean_by_the_date(tmp_path):
    times = hours(2021).append(hours(2022))
    load = written(tmp_path, times, np.where(times.year == 2021, 300.0, 500.0) + times.month)
    assert laid(load, tmp_path)[:, 0] == pytest.approx(400.0 + local().month, rel=1e-12)


def on_the_wall(year=YEAR):
    """Return what a clock on the wall shows at each hour of a year, and each hour's load."""
    standard = pd.date_range(f"{year}-01-01", periods=8760, freq="h", tz="UTC") - pd.Timedelta("1h")
    shown = standard.tz_convert(ZONE).tz_localize(None)
    return shown, 300.0 + np.arange(8760) % 977


def test_a_clock_on_the_wall_loses_nothing_and_shows_an_hour_twice(tmp_path):
    shown, watts = on_the_wall()
    assert shown.duplicated().sum() == 1
    load = written(tmp_path, shown, watts, clock="wall", zone=ZONE)
    found = laid(load, tmp_path)[:, 0]
    assert found.sum() == pytest.approx(watts.sum(), rel=1e-9)
    assert found.tolist() == watts.tolist(), "the repeated hour is there twice, in its order"
    said = (
        "1 times twice, the first 2023-10-29 01:00 UTC; expected each time once. A clock with "
        "daylight saving? Write grid.load.clock: wall, and the zone by its name"
    )
    with pytest.raises(InputError, match=re.escape(said)):
        laid({**load, "clock": "standard"}, tmp_path)


def test_an_hour_that_no_clock_shows_is_standard_time(tmp_path):
    load = written(tmp_path, hours(), np.full(8760, 300.0), clock="wall", zone=ZONE)
    said = "got 2023-03-26 02:00, which a clock on the wall skips in spring; expected times that"
    with pytest.raises(InputError, match=said) as caught:
        laid(load, tmp_path)
    assert "Standard time all year? Write grid.load.clock: standard" in str(caught.value)


def test_quarter_hours_written_as_hours_are_told(tmp_path):
    load = written(tmp_path, np.repeat(hours(), 4), np.full(35_040, 300.0))
    said = "26280 times twice, .*; expected each time once. Steps of a part of an hour, 4 of them"
    with pytest.raises(InputError, match=said):
        laid(load, tmp_path)


def test_a_decimal_comma_is_read(tmp_path):
    lines = [f"{time:%d.%m.%Y %H:%M};{412.5:.1f}".replace(".5", ",5") for time in hours()]
    (tmp_path / "load.csv").write_text("Zeit;Watt\n" + "\n".join(lines), encoding="utf-8")
    assert (laid({"kind": "series", "file": "load.csv"}, tmp_path) == 412.5).all()


@pytest.mark.parametrize("shape", ["dwelling", "workplace"])
def test_a_shape_uses_what_is_said_in_a_year(shape):
    found = laid({"kind": "shape", "shape": shape, "kwh_per_year": 4_200.0})[:, 0]
    assert found.sum() / 1000.0 == pytest.approx(4_200.0, rel=1e-12)
    assert found.min() > 0.0
    hour, sunday = local().hour, local().day_of_week == 6
    by_day, by_night = found[(hour == 11) & ~sunday].mean(), found[hour == 3].mean()
    assert by_day > 1.8 * by_night
    at_eleven = found[(hour == 11) & sunday].mean() / by_day
    assert (at_eleven > 1.2) if shape == "dwelling" else (at_eleven < 0.5)


def test_winter_is_where_the_place_is():
    load = {"kind": "shape", "kwh_per_year": 4_200.0}
    north = laid(load)[:, 0]
    south = shape_power("dwelling", 4_200.0, local(), southern=True)
    months = [pd.Series(own).groupby(local().month).mean() for own in (north, south)]
    assert months[0][1] > months[0][7]
    assert months[1][7] > months[1][1]


@pytest.mark.parametrize("kind", ["day", "shape"])
def test_people_get_up_by_the_clock_on_the_wall(kind):
    load = (
        {"kind": "day", "hours_w": [float(each) for each in range(100, 124)]}
        if kind == "day"
        else {"kind": "shape", "kwh_per_year": 4_200.0}
    )
    standard, wall = laid(load)[:, 0], laid({**load, "clock": "wall", "zone": ZONE})[:, 0]
    july, january = 24 * 190, 24 * 10
    assert wall[july : july + 23].tolist() == standard[july + 1 : july + 24].tolist()
    assert wall[january : january + 24].tolist() == standard[january : january + 24].tolist()
    if kind == "shape":
        assert wall.sum() / 1000.0 == pytest.approx(4_200.0, rel=5e-4)


def self_use_w(load, folder):
    """Return what of one kilowatt of a plant without losses a load takes, step by step [W]."""
    site = site_with(load, folder, NO_LOSSES_BEHIND)
    prepared = prepare(site, year_of().isel(time=slice(0, 48)))
    point = connection_point(prepared)
    offer = np.full((48, 1), 1000.0)
    return point.fed(offer, np.zeros((48, 1))).self_use, why_upper_bound(prepared)


def test_half_an_hour_of_two_kilowatts_takes_half_of_the_plant_s_one(tmp_path):
    halves = hours(step="30min")
    load = written(tmp_path, halves, np.where(halves.minute == 0, 2000.0, 0.0))
    found, why = self_use_w(load, tmp_path)
    assert found == pytest.approx(np.full(48, 500.0), abs=1e-3)
    assert "the load in steps of 30 min" in why
    load = written(tmp_path, hours(), np.full(8760, 1000.0))
    found, why = self_use_w(load, tmp_path)
    assert found == pytest.approx(np.full(48, 1000.0), abs=1e-3)
    assert why == "the plant's power is known in means of 60 min, the load in steps of 60 min"


def bound(load, folder="", on=None, changes=None):
    """Return why self-use is an upper bound on some weather."""
    site = site_with(load, folder, changes)
    return why_upper_bound(prepare(site, year_of().isel(time=slice(0, 96)) if on is None else on))


def test_self_use_is_called_what_it_is(tmp_path):
    constant = {"kind": "constant", "power_w": 800.0}
    assert bound(constant) == "the plant's power is known in means of 60 min"
    within = {"weather.within_hour": {"seed": 1}}
    assert bound(constant, changes=within) == ""
    day = {"kind": "day", "hours_w": [500.0] * 24}
    assert bound(day, changes=within) == "the load in steps of 60 min"
    five = written(tmp_path, hours(step="5min"), np.full(8760 * 12, 500.0))
    assert bound(five, tmp_path, changes=within) == ""
    snapshots = weather().isel(time=slice(0, 96))
    assert bound(constant, on=snapshots) == "the plant's power is known in snapshots every 60 min"


def test_the_bound_is_said_wherever_self_use_is_shown():
    site = site_with({"kind": "shape", "kwh_per_year": 4_200.0})
    days = year_of().isel(time=slice(24 * 150, 24 * 153))
    result = simulate_prepared(prepare(site, days), site.wirings[0], Solutions())
    text = " ".join(result_text(result).split())
    said = r"of it at most [\d,]+ kWh from the plant; exported [\d,]+ kWh, imported at least "
    assert re.search(said, text)
    assert "an upper bound: the plant's power is known in means of 60 min, the load in" in text
    page = str(meter_table(compare(site, weather=days)))
    assert "of it from the plant at most" in page
    assert "imported at least" in page
    assert "is an upper bound: the plant" in page


@pytest.mark.parametrize("limit_w", [None, 2_000.0])
def test_accounts_close_in_every_step(tmp_path, limit_w):
    quarters = hours(step="15min")
    load = written(tmp_path, quarters, 600.0 + 3_000.0 * (quarters.minute == 15))
    more = {"grid.export_limit_w": limit_w, "weather.within_hour": {"seed": 2}}
    site = site_with(load, tmp_path, more)
    days = year_of().isel(time=slice(24 * 150, 24 * 156))
    result: xr.Dataset = simulate_prepared(prepare(site, days), site.wirings[0], Solutions())
    used, out, drawn, load_w = (
        result[f"p_{name}"].to_numpy() for name in ("self_use", "export", "import", "load")
    )
    for values in (used, out, drawn, load_w):
        assert values.min() >= 0.0
    assert (used <= load_w + 1e-9).all()
    dark = result["poa_global"].sum("plane").to_numpy() == 0.0
    assert dark.sum() > 30
    assert used[dark].max() == 0.0
    # What the inverters take at night and at dusk comes from the network beside the load.
    taken = drawn - (load_w - used)
    assert taken.min() > -1e-6
    assert taken[dark].min() > 0.5
    assert np.abs(used + out - result["p_delivered"].to_numpy() - taken).max() < 1e-3
    if limit_w is not None:
        assert out.max() <= limit_w + 1e-3


@pytest.mark.parametrize("limit_w", [None, 1_500.0])
def test_what_is_on_offer_is_used_exported_held_back_or_lost(limit_w):
    load = {"kind": "day", "hours_w": [300.0] * 8 + [2_500.0] * 12 + [500.0] * 4}
    more = {
        "grid.export_limit_w": limit_w,
        "grid.availability_percent": 97.0,
        "grid.network_voltage": {"kind": "constant", "voltage_v": 251.5},
        "inverter.night_power_w": 9.0,
        "inverter.auxiliary_power_w": 4.0,
    }
    site = site_with(load, changes=more)
    days = year_of().isel(time=slice(24 * 150, 24 * 160))
    result: xr.Dataset = simulate_prepared(prepare(site, days), site.wirings[0], Solutions())
    offer, used, out, drawn, load_w, heat = (
        result[name].to_numpy()
        for name in (
            "p_ac_unlimited",
            "p_self_use",
            "p_export",
            "p_import",
            "p_load",
            "p_lead_loss",
        )
    )
    held = result["p_held_back"].sum("inverter").to_numpy()
    off = result["off_fraction"].to_numpy()[:, 0]
    dark = result["p_dc_available"].sum("tracker").to_numpy() <= 0.0
    # Own consumption by the site file alone: always 4 W, at night 9 W beside.
    own = 4.0 + np.where(dark, 9.0, 0.0)
    at_meter = offer - held - own - heat
    arriving, taken = np.maximum(at_meter, 0.0), np.maximum(-at_meter, 0.0)
    down = arriving * (1.0 - 0.97 * (1.0 - off))
    assert offer.min() >= 0.0
    assert held.min() >= 0.0
    assert down.max() > 100.0
    # Steps of an hour: watts are watt-hours.
    on_offer = used + out + held + down + own + heat - taken
    assert np.abs(offer - on_offer).max() < 1e-3
    assert np.abs(load_w + taken - used - drawn).max() < 1e-3
    # A plant's night consumption is a load: it is bought.
    assert drawn[dark] == pytest.approx(load_w[dark] + 13.0, abs=1e-3)
    if limit_w is None:
        assert off.max() > 0.01, "switch-off takes its part"
    else:
        assert held.max() > 1_000.0


WRONG = {
    "a unit of a day": (
        {"kind": "day", "hours_w": [5.0] * 24, "unit": "kW"},
        "grid.load.unit: got unit with kind day; expected unit with kind series only.",
    ),
    "a shape without its sum": (
        {"kind": "shape"},
        "grid.load.kind: got kind shape without kwh_per_year; expected kwh_per_year: the",
    ),
    "a shape of a measured one": (
        {"kind": "day", "hours_w": [5.0] * 24, "shape": "workplace"},
        "grid.load.shape: got shape with kind day; expected shape with kind shape only.",
    ),
    "a clock of a constant": (
        {"kind": "constant", "power_w": 500.0, "clock": "wall"},
        "grid.load.clock: got clock with kind constant; expected clock with kind series or day or",
    ),
    "a zone that does nothing": (
        {"kind": "day", "hours_w": [5.0] * 24, "zone": ZONE},
        "grid.load.zone: got zone with kind day by standard time; expected zone with clock: wall.",
    ),
    "a wall without a place": (
        {"kind": "day", "hours_w": [5.0] * 24, "clock": "wall", "zone": "UTC+01:00"},
        "grid.load.zone: got 'UTC+01:00', of which no summer time is known; expected an IANA zone",
    ),
    "a wall of the site's offset": (
        {"kind": "shape", "kwh_per_year": 4_200.0, "clock": "wall"},
        "site.time_zone: got 'UTC+01:00', of which no summer time is known; expected an IANA zone",
    ),
    "a wall of nowhere": (
        {"kind": "day", "hours_w": [5.0] * 24, "clock": "wall", "zone": "Europe/Berlim"},
        "Did you mean 'Europe/Berlin'?",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_means_nothing_for_a_load_is_refused(name):
    load, said = WRONG[name]
    with pytest.raises(InputError, match=re.escape(said)):
        site_with(load)
