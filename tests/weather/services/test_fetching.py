"""What services answered becomes a file that is read as it was meant, and its use is told."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.weather.services.answering import (
    answer,
    invented_hours,
    invented_power,
    nsrdb_hours,
    nsrdb_typical,
    recorded,
    typical_year,
)
from yieldkit.cli import main as cli
from yieldkit.study.simulation.period import covered_period
from yieldkit.weather.readers.canonical import sun_of
from yieldkit.weather.readers.read import read_weather
from yieldkit.weather.services import services
from yieldkit.weather.services.cache import cache_folder

pytestmark = pytest.mark.slow

NSRDB = ("--at", "40.53,-108.54")


def head_of(path):
    first = path.read_text(encoding="utf-8").partition("\n")[0]
    return json.loads(first.removeprefix("# canonical weather: "))


@pytest.fixture
def keyed(monkeypatch):
    monkeypatch.setenv(services.KEY, "hush-hush-key")
    monkeypatch.setenv(services.MAIL, "me@example.org")


def test_the_recorded_typical_year_is_the_shipped_one(asked, tmp_path, capsys):
    asked.answer(answer(typical_year()))
    assert cli.main(["weather", "--at", "45,8", "--out", "mine.csv"]) == 0
    told = capsys.readouterr()
    mine = read_weather("mine.csv", "canonical")
    shipped = read_weather("typical-year-45n-8e", "canonical")
    assert (mine.indexes["time"] == shipped.indexes["time"]).all()
    for name, within in (("ghi", 0.06), ("dni", 0.06), ("dhi", 0.06), ("temp_air", 0.006)):
        assert np.abs(mine[name].to_numpy() - shipped[name].to_numpy()).max() <= within, name
    for fact in ("sampling", "sun_offset_s", "altitude_m", "time_zone", "wind_height_m", "typical"):
        assert mine.attrs[fact] == shipped.attrs[fact], fact
    assert asked.questions == [("/tmy", {"lat": "45.0", "lon": "8.0", "outputformat": "json"})]
    assert (
        "Wrote mine.csv: Typical year of 2005-2023 (PVGIS-SARAH3), 45 N 8 E, 250 m; "
        "snapshots 10.6 min after their labels.\n"
        "Its light sums up to 1,436 kWh/m2; clock and label agree with the sun.\n"
    ) in told.out
    assert 'weather:\n  file: "mine.csv"\n  format: canonical\n' in told.out
    assert "put this in place of the weather block of your site file" in told.out
    assert told.err.splitlines() == [
        "Weather of 45 N 8 E from: Joint Research Centre, typical year.",
        "Time zone UTC+01:00: a guess from the longitude; --time-zone states another.",
    ]


def test_the_head_says_whence_when_and_how(asked):
    asked.answer(answer(typical_year()))
    cli.main(["weather", "--at", "45,8", "--out", "mine.csv"])
    head = head_of(Path.cwd() / "mine.csv")
    assert head["attribution"].startswith("European Commission, Joint Research Centre; ")
    assert head["query"] == {
        "source": "jrc-typical-year",
        "latitude": 45.0,
        "longitude": 8.0,
        "years": "the service's choice",
    }
    assert head["fetched"] == pd.Timestamp.now("UTC").strftime("%Y-%m-%d")
    assert (head["sampling"], head["sun_offset_s"], head["typical"]) == ("snapshot", 633.96, True)
    assert (head["latitude"], head["longitude"], head["altitude_m"]) == (45.0, 8.0, 250.0)


@pytest.mark.parametrize("zone", ["UTC-09:30", "UTC+14:00"])
def test_a_typical_year_stays_whole_under_any_clock(asked, zone):
    asked.answer(answer(typical_year()))
    assert cli.main(["weather", "--at", "45,8", "--time-zone", zone, "--out", "mine.csv"]) == 0
    mine = read_weather("mine.csv", "canonical")
    quality = json.loads(mine.attrs["quality"])
    assert mine.attrs["time_zone"] == zone
    assert (mine.sizes["time"], quality["clock"], quality["clock_shift_min"]) == (8760, "agrees", 0)
    assert not mine["ghi"].isnull().any()
    frame = pd.read_csv("mine.csv", comment="#", parse_dates=["time"])
    assert set(frame["time"].dt.year) == {2018}


def test_a_typical_year_of_chosen_years(asked):
    asked.answer(answer(typical_year()))
    words = ["weather", "--at", "45,8", "--source", "jrc-typical-year", "--years", "2005-2016"]
    assert cli.main(words) == 0
    assert asked.questions[0][0] == "/tmy"
    assert {"startyear": "2005", "endyear": "2016"}.items() <= asked.questions[0][1].items()
    head = head_of(Path.cwd() / "jrc-typical-year-2005-2016-45n-8e.csv")
    assert head["query"]["years"] == "2005-2016"


def test_years_are_asked_hour_by_hour_and_direct_light_follows_by_closure(asked, capsys):
    asked.answer(answer(invented_hours(minute=10)))
    assert cli.main(["weather", "--at", "45,8", "--years", "2019"]) == 0
    path, query = asked.questions[0]
    assert path == "/seriescalc"
    wanted = {"angle": "0", "components": "1", "startyear": "2019", "endyear": "2019"}
    assert wanted.items() <= query.items()
    file = Path.cwd() / "jrc-hourly-2019-45n-8e.csv"
    head = head_of(file)
    assert (head["sampling"], head["sun_offset_s"], head["typical"]) == ("snapshot", 0.0, False)
    mine = read_weather(file, "canonical")
    assert mine.indexes["time"][0] == pd.Timestamp("2019-01-01 00:10")
    quality = json.loads(mine.attrs["quality"])
    assert quality["decomposition"] == "direct from global and diffuse"
    assert "Hours of 2019 (PVGIS-SARAH3), 45 N 8 E, 250 m; snapshots.\n" in capsys.readouterr().out
    recorded_sum = sum(row["G(h)"] for row in json.loads(typical_year())["outputs"]["tmy_hourly"])
    assert float(mine["ghi"].sum()) == pytest.approx(recorded_sum, abs=1.0)


def test_a_reanalysis_tells_means_about_the_times_written(asked):
    asked.answer(answer(invented_hours(database="PVGIS-ERA5", minute=30)))
    assert cli.main(["weather", "--at", "45,8", "--years", "2019", "--out", "mine.csv"]) == 0
    head = head_of(Path.cwd() / "mine.csv")
    assert (head["sampling"], head["label"]) == ("mean", "middle")
    assert "sun_offset_s" not in head
    mine = read_weather("mine.csv", "canonical")
    assert mine.indexes["time"][0] == pd.Timestamp("2019-01-01 00:00")


def test_a_year_of_utc_is_a_year_under_a_far_clock(asked):
    asked.answer(answer(invented_hours(minute=10)))
    words = ["weather", "--at", "45,8", "--years", "2019-2019", "--time-zone", "UTC+11:00"]
    assert cli.main([*words, "--out", "mine.csv"]) == 0
    mine = read_weather("mine.csv", "canonical")
    place = (45.0, 8.0, 250.0)
    assert covered_period(mine, sun_of(mine), place).per == "a year"


def test_means_of_a_service_asked_year_by_year(asked, capsys):
    asked.answer(answer(invented_power(2018)), answer(invented_power(2019)))
    words = ["weather", *NSRDB, "--source", "nasa-power", "--years", "2018-2019", "--out", "a.csv"]
    assert cli.main(words) == 0
    assert [query["start"] for _, query in asked.questions] == ["20180101", "20190101"]
    assert [query["end"] for _, query in asked.questions] == ["20181231", "20191231"]
    head = head_of(Path.cwd() / "a.csv")
    assert (head["sampling"], head["label"], head["altitude_m"]) == ("mean", "start", 705.88)
    assert head["attribution"].startswith("NASA Langley Research Center, POWER project; ")
    mine = read_weather("a.csv", "canonical")
    assert mine.sizes["time"] == 2 * 8760
    assert mine.indexes["time"][0] == pd.Timestamp("2018-01-01 00:00")
    assert int(mine["ghi"].isnull().sum()) == 2
    assert "705.88 m; means, label at the start." in capsys.readouterr().out


def test_a_clock_that_is_off_is_told_of(asked, capsys):
    asked.answer(answer(invented_power(hours_late=1)))
    words = ["weather", *NSRDB, "--source", "nasa-power", "--years", "2019", "--out", "a.csv"]
    assert cli.main(words) == 2
    told = capsys.readouterr().err
    assert "a.csv, clock: got irradiances that close -60 minutes from the declared times" in told
    assert not (Path.cwd() / "a.csv").exists()


def test_hours_with_a_key(asked, keyed, tmp_path):
    asked.answer(answer(nsrdb_hours(), kind="text/csv"))
    words = ["weather", *NSRDB, "--source", "nsrdb-hourly", "--years", "2023", "--out", "a.csv"]
    assert cli.main(words) == 0
    query = asked.questions[0][1]
    assert (query["api_key"], query["email"]) == ("hush-hush-key", "me@example.org")
    assert (query["names"], query["interval"], query["leap_day"]) == ("2023", "60", "true")
    head = head_of(Path.cwd() / "a.csv")
    assert (head["sampling"], head["time_zone"], head["wind_height_m"]) == (
        "snapshot",
        "UTC-07:00",
        2.0,
    )
    quality = json.loads(read_weather("a.csv", "canonical").attrs["quality"])
    assert quality["clock"] == "agrees"
    for file in (Path.cwd() / "a.csv", *cache_folder().iterdir()):
        assert b"hush" not in file.read_bytes()
        assert b"example.org" not in file.read_bytes()


def test_a_typical_year_with_a_key(asked, keyed):
    asked.answer(answer(nsrdb_typical(), kind="text/csv"))
    words = ["weather", *NSRDB, "--source", "nsrdb-typical-year", "--out", "a.csv"]
    assert cli.main(words) == 0
    mine = read_weather("a.csv", "canonical")
    assert (mine.sizes["time"], mine.attrs["typical"]) == (8760, 1)
    assert mine.attrs["altitude_m"] == 2168.0
    # 780 mbar at the height of 2168 m, in Pa.
    assert float(mine["pressure"].mean()) == pytest.approx(78_000, rel=0.02)
    assert json.loads(mine.attrs["quality"])["clock"] == "agrees"


def test_the_same_question_comes_from_the_cache_and_fresh_asks_again(asked, capsys):
    asked.answer(answer(typical_year()))
    cli.main(["weather", "--at", "45,8", "--out", "one.csv"])
    cli.main(["weather", "--at", "45,8", "--out", "two.csv"])
    folder = Path.cwd()
    assert len(asked.questions) == 1
    assert (folder / "one.csv").read_bytes() == (folder / "two.csv").read_bytes()
    today = pd.Timestamp.now("UTC").strftime("%Y-%m-%d")
    told = f"Taken from the cache, as it was told on {today}; --fresh asks again."
    assert capsys.readouterr().err.count(told) == 1
    cli.main(["weather", "--at", "45,8", "--out", "two.csv", "--fresh"])
    assert len(asked.questions) == 2
    assert told not in capsys.readouterr().err
    cli.main(["weather", "--at", "45.01,8", "--out", "three.csv"])
    assert len(asked.questions) == 3


def test_hours_come_back_from_the_cache_as_they_were(asked, keyed):
    asked.answer(answer(nsrdb_hours(), kind="text/csv"))
    words = ["weather", *NSRDB, "--source", "nsrdb-hourly", "--years", "2023", "--out"]
    assert cli.main([*words, "one.csv"]) == cli.main([*words, "two.csv"]) == 0
    assert len(asked.questions) == 1
    one, two = (Path.cwd() / name for name in ("one.csv", "two.csv"))
    assert one.read_bytes() == two.read_bytes()


def test_a_damaged_entry_of_the_cache_is_asked_again(asked):
    asked.answer(answer(typical_year()))
    cli.main(["weather", "--at", "45,8", "--out", "one.csv"])
    (entry,) = cache_folder().iterdir()
    for damage in (entry.read_bytes()[:-5000], b"\xff\xfe\x00", b""):
        entry.write_bytes(damage)
        asked.questions.clear()
        assert cli.main(["weather", "--at", "45,8", "--out", "one.csv"]) == 0
        assert len(asked.questions) == 1


def test_without_a_place_for_the_cache_the_answer_is_taken_all_the_same(asked, monkeypatch):
    (Path.cwd() / "a-file").write_text("")
    monkeypatch.setenv("YIELDKIT_CACHE", str(Path.cwd() / "a-file"))
    asked.answer(answer(typical_year()))
    assert cli.main(["weather", "--at", "45,8", "--out", "one.csv"]) == 0


def test_a_site_gives_place_and_clock(asked, capsys):
    cli.main(["new", "roof.yaml", "--at", "-33.9,151.2", "--time-zone", "UTC+10:30"])
    answered = json.loads(typical_year())
    asked.answer(answer(json.dumps(answered).encode()))
    capsys.readouterr()
    assert cli.main(["weather", "roof.yaml", "--out", "a.csv"]) == 0
    assert asked.questions[0][1] == {"lat": "-33.9", "lon": "151.2", "outputformat": "json"}
    assert head_of(Path.cwd() / "a.csv")["time_zone"] == "UTC+10:30"
    assert "guess" not in capsys.readouterr().err
    assert "weather-33.9s-151.2e.csv" in (Path.cwd() / "roof.yaml").read_text()


def test_a_file_that_is_no_older_answer_is_never_written_over(asked, capsys):
    asked.answer(answer(typical_year()))
    other = Path.cwd() / "mine.csv"
    other.write_text("my own measurements\n")
    assert cli.main(["weather", "--at", "45,8", "--out", "mine.csv"]) == 2
    assert capsys.readouterr().err == (
        "yieldkit: mine.csv: got a file that exists; expected a new name, or an older answer to "
        "the same question. Name another file with --out.\n"
    )
    assert (other.read_text(), asked.questions) == ("my own measurements\n", [])
    cli.main(["weather", "--at", "45,8", "--out", "a.csv"])
    assert cli.main(["weather", "--at", "45,8", "--out", "a.csv"]) == 0
    assert cli.main(["weather", "--at", "45.5,8", "--out", "a.csv"]) == 2


def test_help_names_every_source_and_says_what_fetches(capsys):
    with pytest.raises(SystemExit, match="0"):
        cli.main(["weather", "--help"])
    told = " ".join(capsys.readouterr().out.split())
    assert all(word in told.replace("- ", "-") for word in services.SERVICES)
    assert "such as -33.9,151" in told


def test_the_addresses_are_the_ones_the_library_knows():
    assert services.ADDRESSES["jrc"].startswith("https://re.jrc.ec.europa.eu/")
    assert services.ADDRESSES["nasa-power"].startswith("https://power.larc.nasa.gov/")


def test_recorded_answers_are_whole():
    assert len(json.loads(typical_year())["outputs"]["tmy_hourly"]) == 8760
    assert recorded("test_read_psm4.csv").count(b"\n") == 17523
