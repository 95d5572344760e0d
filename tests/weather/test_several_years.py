"""Several weather files of one place: read as one, averaged, or refused with both names."""

import json

import numpy as np
import pandas as pd
import pytest

from tests.study.batch.plans import AT_WEATHER, put_plan
from tests.study.test_period import period, plain
from tests.weather.several_years import put_table, put_year, year_table
from yieldkit.base.errors import InputError
from yieldkit.config.site.files import read_site_text
from yieldkit.config.site.weather_block import with_weather
from yieldkit.config.site.written_back import with_wirings
from yieldkit.study.batch.runs import runs_of
from yieldkit.study.comparison.compare import compare
from yieldkit.study.comparison.months import monthly_table
from yieldkit.study.ranking.propose import propose
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate
from yieldkit.study.simulation.weather import site_weather, weather_cautions
from yieldkit.study.simulation.weather_questions import asked_site
from yieldkit.study.simulation.whole_years import weather_years, whole_years
from yieldkit.study.wiring_energies.energies import wiring_yields
from yieldkit.weather.readers.canonical import Station
from yieldkit.weather.readers.years import YearFile, years_together

NAMED = "file: typical-year-45n-8e"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder with three years: 2015 dark, 2016 (a leap year) as it is, 2018 bright."""
    place = tmp_path_factory.mktemp("years")
    for year, brighter in ((2015, 0.9), (2016, 1.0), (2018, 1.06)):
        put_year(place, year, brighter)
    return place


def site_text(files):
    return AT_WEATHER.replace(NAMED, f"file: {files}")


def site_of(files, folder):
    return read_site_text(site_text(files), folder=str(folder))


def energies(files, folder):
    site = site_of(files, folder)
    return simulate(site, "plain", site_weather(site))


@pytest.fixture(scope="module")
def each_alone(folder):
    return {year: energies(f"{year}.csv", folder) for year in (2015, 2016, 2018)}


def monthly(result):
    local = result.indexes["time"] + np.timedelta64(3600, "s")
    power = result["p_delivered"].to_numpy() / 1000.0
    return np.array([power[local.month == month].sum() for month in range(1, 13)])


@pytest.mark.parametrize(
    "files",
    ["[2015.csv, 2016.csv, 2018.csv]", '"20*.csv"', "[2018.csv, 2015.csv, 2016.csv]"],
    ids=["list", "pattern", "out of order"],
)
def test_annual_figures_are_means_of_the_years(files, folder, each_alone):
    together = energies(files, folder)
    alone = [result.attrs["energy_kwh"] for result in each_alone.values()]
    assert together.attrs["energy_kwh"] == pytest.approx(np.mean(alone), rel=1e-9)
    assert together.attrs["period"] == "a year (mean of 3)"
    months = np.mean([monthly(result) for result in each_alone.values()], axis=0)
    assert monthly(together) / 3.0 == pytest.approx(months, rel=1e-9)
    for step in ("temperature", "incidence angle"):
        shares = [
            float(result["loss_budget"].sel(loss_step=step)) for result in each_alone.values()
        ]
        assert float(together["loss_budget"].sel(loss_step=step)) == pytest.approx(
            np.mean(shares), rel=1e-9
        )


def test_29_february_counts(folder, each_alone):
    february = [monthly(each_alone[year])[1] for year in (2016, 2018)]
    days = year_table(2016).loc["2016-02-29"]["ghi"].sum()
    assert days > 0.0
    assert february[0] > february[1] / 1.06 * (28.0 / 27.0 - 0.05)
    assert each_alone[2016].sizes["time"] == 8784


def test_one_file_in_a_list_is_that_file(folder, each_alone):
    alone = energies("[2015.csv]", folder)
    assert alone.attrs["energy_kwh"] == each_alone[2015].attrs["energy_kwh"]
    assert alone.attrs == each_alone[2015].attrs | {"site_sha256": alone.attrs["site_sha256"]}


def test_every_file_is_named_with_its_hash_and_its_time(folder):
    site = site_of('"20*.csv"', folder)
    weather = site_weather(site)
    attrs = simulate(site, "plain", weather).attrs
    assert attrs["weather_source"] == "2015.csv, 2016.csv, 2018.csv"
    hashes = attrs["weather_sha256"].split(", ")
    assert len(set(hashes)) == 3
    assert hashes[0] == site_weather(site_of("2015.csv", folder)).attrs["sha256"]
    assert weather_cautions(weather) == ()
    assert (
        "Weather of 3 files: '2015.csv' 2015-01-01 to 2015-12-31; '2016.csv' 2016-01-01 to "
        "2016-12-31; '2018.csv' 2018-01-01 to 2018-12-31."
    ) in prepare(site, weather).assumptions
    assert json.loads(weather.attrs["quality"])["clock_text"] == (
        "clock and label agree with the sun"
    )


def test_the_year_between_two_files_is_no_gap(folder):
    site = site_of('"20*.csv"', folder)
    period = prepare(site, site_weather(site)).period
    assert (period.years, period.missing_steps, period.coverage) == (3, 0, 1.0)
    assert not any("missing" in remark for remark in period.remarks())


def test_gaps_inside_a_file_are_told_and_counted(folder, tmp_path):
    put_year(tmp_path, 2015)
    put_year(tmp_path, 2016, gone=[("2016-06-03", "2016-06-04")])
    site = site_of('"20*.csv"', tmp_path)
    weather = site_weather(site)
    prepared = prepare(site, weather)
    assert (prepared.period.years, prepared.period.missing_steps) == (2, 24)
    assert any("24 steps missing" in remark for remark in prepared.remarks)
    assert weather_cautions(weather) == ("Steps missing in weather files: '2016.csv' 24.",)


@pytest.fixture(scope="module")
def holed(tmp_path_factory):
    """Return a folder with the three years, of which 2016 lacks most of March."""
    place = tmp_path_factory.mktemp("holed")
    for year, brighter in ((2015, 0.9), (2018, 1.06)):
        put_year(place, year, brighter)
    put_year(place, 2016, gone=[("2016-03-05", "2016-04-01")])
    return place


def test_a_month_that_is_not_whole_is_left_out_by_name(holed):
    site = site_of('"20*.csv"', holed)
    weather = site_weather(site)
    period = prepare(site, weather).period
    assert (period.years, period.missing_steps) == (3, 0)
    assert period.month_times == (3, 3, 2, *[3] * 9)
    local = weather.indexes["time"] + np.timedelta64(3600, "s")
    assert not ((local.year == 2016) & (local.month == 3)).any()
    _, said = weather_cautions(weather)
    assert said.startswith(
        "Left out of every figure, for a month must have 95 % of its daylight: 2016-03 (1"
    )
    assert said.endswith("Other years' months stand for them: figures are means month by month.")
    assert period.remarks()[0] == (
        "The weather holds 3 years, of some months fewer (Mar 2): energies and hours are means "
        "month by month, added up to a year."
    )
    assert "Mar 67 %" in period.coverage_sentence()


def test_figures_are_means_of_each_month_s_own_times(holed, each_alone):
    together = energies('"20*.csv"', holed)
    months = np.array([monthly(each_alone[year]) for year in (2015, 2016, 2018)])
    expected = months.mean(axis=0)
    expected[2] = months[[0, 2], 2].mean()
    assert together.attrs["energy_kwh"] == pytest.approx(expected.sum(), rel=1e-9)
    assert together.attrs["month_times"] == "[3, 3, 2, 3, 3, 3, 3, 3, 3, 3, 3, 3]"
    closure = float(together["potential"][0]) - float(together["loss_budget"].sum())
    assert closure == pytest.approx(together.attrs["energy_kwh"], rel=1e-9)
    light = np.array([float(each_alone[year]["plane_irradiation"][0]) for year in (2015, 2018)])
    assert light[0] < float(together["plane_irradiation"][0]) < light[1]


def test_the_ways_to_an_energy_agree_on_uneven_months(holed):
    site = site_of('"20*.csv"', holed)
    prepared = prepare(site, site_weather(site))
    found = wiring_yields(prepared, site.wirings)
    results = [simulate(site, each.name, prepared.weather) for each in site.wirings]
    told = [each.attrs["energy_kwh"] for each in results]
    assert found.energy_kwh == pytest.approx(told, rel=1e-9)
    assert found.capped_hours == pytest.approx(
        [each.attrs["clipped_hours"] + each.attrs["derated_hours"] for each in results], abs=1e-9
    )
    ranking = propose(site, weather=prepared.weather)
    assert ranking.energy_kwh[ranking.order[0]] == pytest.approx(max(told), rel=0.01)
    best = ranking.wiring(0)
    again = site.model_copy(update={"wirings": (best,)})
    exact = simulate(again, best.name, prepared.weather).attrs["energy_kwh"]
    assert ranking.energy_kwh[ranking.order[0]] == pytest.approx(exact, rel=1e-9)
    compared = compare(site, prepared.weather)
    sums = monthly_table(compared)
    assert sums["plain"].sum() == pytest.approx(told[0], rel=1e-9)


def test_nothing_whole_is_no_year(tmp_path):
    for year in (2015, 2016):
        put_year(tmp_path, year, gone=[(f"{year}-03-05", f"{year}-12-03")])
    site = site_of('"20*.csv"', tmp_path)
    period = prepare(site, site_weather(site)).period
    assert period.years == 0
    assert "Not a year" in period.remarks()[0]


def test_halves_of_years_make_years(tmp_path):
    for first, last in (("2015-07", "2016-01"), ("2016-01", "2016-07"), ("2016-07", "2017-07")):
        table = year_table(2015).combine_first(year_table(2016)).combine_first(year_table(2017))
        put_table(
            tmp_path,
            table.loc[first:last].iloc[: -744 if last != first else None],
            name=f"{first}.csv",
        )
    site = site_of('"20*.csv"', tmp_path)
    weather = site_weather(site)
    assert prepare(site, weather).period.years == 2
    assert [each.name for each in weather_years(weather)] == [
        "2015-07 to 2016-06",
        "2016-07 to 2017-06",
    ]


def test_weather_is_cut_into_its_years(folder):
    years = weather_years(site_weather(site_of('"20*.csv"', folder)))
    assert [each.name for each in years] == ["2015", "2016", "2018"]
    assert [each.weather.sizes["time"] for each in years] == [8760, 8784, 8760]
    alone = weather_years(site_weather(site_of("2016.csv", folder)))
    assert [each.name for each in alone] == ["2016"]


def refusal(files, folder):
    with pytest.raises(InputError, match=r"weather\.file") as caught:
        site_weather(site_of(files, folder))
    return " ".join(str(caught.value).split())


def test_files_that_do_not_belong_together_are_refused_with_both_names(folder, tmp_path):
    put_year(tmp_path, 2015)
    put_year(tmp_path, 2015, name="again.csv")
    put_year(tmp_path, 2016, name="far.csv", latitude=45.2)
    put_year(tmp_path, 2016, name="high.csv", altitude_m=900.0)
    put_year(tmp_path, 2016, name="typical.csv", typical=True)
    put_year(tmp_path, 2016, name="other.csv", sampling="mean", sun_offset_s=0.0)
    put_year(tmp_path, 2016, name="dry.csv", columns=["relative_humidity"])
    put_year(tmp_path, 2016, name="low.csv", wind_height_m=2.0)
    half = year_table(2016).resample("30min").interpolate()
    put_table(tmp_path, half, name="half.csv")
    for other, needed in {
        "again.csv": "up to 2015-12-31 22:00 UTC and",
        "far.csv": "km apart; expected years of one place, within 5 km and 100 m of height",
        "high.csv": "900 m, 0 km apart",
        "typical.csv": "among several files: a typical year, put together from months of several",
        "other.csv": "(snapshots 10.566 minutes after their label)",
        "dry.csv": "the same quantities in every file",
        "low.csv": "(at 2 m)",
        "half.csv": "(every 3600 s) and of 'half.csv' (every 1800 s); expected files of one step",
    }.items():
        said = refusal(f"[2015.csv, {other}]", tmp_path)
        assert needed in said, said
        assert f"'{other}'" in said
        assert "'2015.csv'" in said or other == "typical.csv"


def test_steps_beside_the_raster_are_refused(tmp_path):
    put_year(tmp_path, 2015)
    quarters = year_table(2016).resample("15min").interpolate()
    put_table(tmp_path, quarters.iloc[1::4], name="late.csv")
    said = refusal("[2015.csv, late.csv]", tmp_path)
    assert "steps of 'late.csv' that begin 15 minutes beside those of '2015.csv'" in said
    assert "expected files of one raster. Was one labelled otherwise?" in said


def test_a_pattern_whose_files_are_gone_is_told(tmp_path):
    put_year(tmp_path, 2015)
    site = site_of('"20*.csv"', tmp_path)
    (tmp_path / "2015.csv").unlink()
    with pytest.raises(InputError, match=r"the pattern '20\*\.csv', which no file matches"):
        site_weather(site)


def test_what_one_file_assumes_is_told_beside_its_name(tmp_path):
    put_year(tmp_path, 2015)
    put_year(tmp_path, 2016, columns=["wind_speed"])
    attrs = site_weather(site_of('"20*.csv"', tmp_path)).attrs
    quality = json.loads(attrs["quality"])
    assert quality["assumed"] == "2016.csv: no wind in the file: 1 m/s assumed"


def test_filled_gaps_of_one_file_stay_marked(tmp_path):
    put_year(tmp_path, 2015)
    put_year(tmp_path, 2016, gone=[("2016-06-03T10:00", "2016-06-03T12:00")])
    site = site_of('"20*.csv", fill_gaps_up_to_h: 3', tmp_path)
    weather = site_weather(site)
    assert int(weather["filled"].sum()) == 2
    period = prepare(site, weather).period
    assert (period.years, period.filled_steps) == (2, 2)


def test_the_first_question_about_a_table_is_asked_of_the_first_file(tmp_path):
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text("when,G,T\n01.02.2015 00:00,1,2\n01.02.2015 01:00,1,2\n")
    text = site_text('"*.csv", columns: {time: when, ghi: G, temp_air: T}').replace(
        "format: canonical", "format: csv"
    )
    (tmp_path / "site.yaml").write_text(text)
    with pytest.raises(InputError, match=r"a\.csv: got times without a time zone") as caught:
        asked_site(tmp_path / "site.yaml")
    assert "b.csv" not in str(caught.value)


def test_a_site_shows_its_files(folder):
    assert "2015.csv, 2016.csv, 2018.csv (canonical)" in repr(
        site_of("[2015.csv, 2016.csv, 2018.csv]", folder)
    )


def test_patterns_and_lists_that_lead_nowhere(folder):
    said = refusal('"19*.csv"', folder)
    assert "the pattern '19*.csv', which no file matches" in said
    assert f"It counts from the site file's folder, {folder}" in said
    assert "again; expected each file once" in refusal('["20*.csv", 2015.csv]', folder)
    assert "'2014.csv', which is not there" in refusal("[2015.csv, 2014.csv]", folder)
    for wrong in ("[]", "[1, 2]"):
        with pytest.raises(
            InputError, match=r"a pattern such as years/\*\.csv, or a list of files"
        ):
            site_of(wrong, folder)
    with pytest.raises(InputError, match="Put it in quotes: '2015'"):
        site_of("2015", folder)


def test_files_of_one_name_are_told_apart_by_their_folders(tmp_path):
    for year in (2015, 2016):
        (tmp_path / str(year)).mkdir()
        put_year(tmp_path / str(year), year, name="w.csv")
    weather = site_weather(site_of('"20*/w.csv"', tmp_path))
    assert weather.attrs["source"] == "2015/w.csv, 2016/w.csv"


def test_a_copy_elsewhere_leads_to_the_same_files(folder, tmp_path):
    text = site_text("[2015.csv, '201[68].csv']")
    site = read_site_text(text, folder=str(folder))
    moved = with_wirings(text, site.wirings[:1], folder, into=tmp_path)
    found = read_site_text(moved, folder=str(tmp_path))
    assert all("/" in file for file in found.weather.files)
    assert site_weather(found).attrs["sha256"] == site_weather(site).attrs["sha256"]


PLAN = """\
    base: site.yaml
    axes:
      - {name: tilt, path: planes.west.tilt_deg, values: [20]}
    wirings: [plain]
    """


@pytest.mark.parametrize(
    "said",
    [
        'file: "20*.csv" # all years',
        "file: [2015.csv, 2016.csv]",
        "file:\n  - 2015.csv\n  - 2016.csv",
    ],
)
def test_a_fetched_file_takes_the_place_of_all_of_them(said, folder):
    block = f"weather:\n  {said.replace(chr(10), chr(10) + '  ')}\n  format: canonical # ours\n"
    text = AT_WEATHER.replace(f"weather: {{{NAMED}, format: canonical}}\n", block)
    assert block in text
    (folder / "new.csv").write_text((folder / "2015.csv").read_text())
    found, _ = with_weather(text, "new.csv", None, folder, "site.yaml")
    site = read_site_text(found, folder=str(folder))
    assert (site.weather.file, site.weather.format) == ("new.csv", "canonical")
    assert "# ours" in found
    assert "2016" not in found


def test_a_run_is_named_by_the_bytes_of_all_files(tmp_path):
    for year in (2015, 2016):
        put_year(tmp_path, year)

    def named(files):
        (tmp_path / "site.yaml").write_text(site_text(files))
        (run,) = runs_of(put_plan(tmp_path, PLAN))
        return run

    first = named("[2015.csv, 2016.csv]")
    assert first.weather_file.name == "2015 and 1 more"
    assert named("[2016.csv, 2015.csv]").name == first.name
    assert named('"201*.csv"').name == first.name
    assert named("2015.csv").name != first.name
    put_year(tmp_path, 2016, 1.001)
    assert named("[2015.csv, 2016.csv]").name != first.name


@pytest.mark.parametrize(("longitude", "hours"), [(-120.0, -8), (170.0, 11)])
def test_years_cut_by_another_clock_are_whole(longitude, hours):
    place = Station(45.0, longitude, 250.0, hours * 3600, 10.0)
    ahead = pd.Timedelta(hours=hours)
    files = [
        YearFile(
            f"{year}.csv",
            plain(
                pd.Timestamp(f"{year}-01-01") + ahead,
                pd.Timestamp(f"{year + 1}-01-01") + ahead,
                place=place,
                zone_h=hours,
            ),
        )
        for year in (2015, 2016, 2018)
    ]
    together = years_together(files)
    found = period(together)
    assert (found.years, found.missing_steps) == (3, 0)
    assert whole_years(together) is together
    assert [each.name for each in weather_years(together)] == ["2015", "2016", "2018"]
