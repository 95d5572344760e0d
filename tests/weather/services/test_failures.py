"""Whatever stands between us and the data is one sentence, exit 2, and no file is left."""

import json
import socket
import time
from pathlib import Path

import pytest

from tests.weather.services.answering import (
    answer,
    cut_off,
    invented_hours,
    invented_power,
    nsrdb_hours,
    recorded,
    silence,
    typical_year,
)
from yieldkit.cli import main as cli
from yieldkit.weather.services import asking, services
from yieldkit.weather.services.cache import cache_folder

pytestmark = pytest.mark.slow

PAGE = b"<!DOCTYPE html><html><body>Busy</body></html>"
LATER = "Nothing was written. Ask again later, or take another --source.\n"
JRC = "yieldkit: Joint Research Centre, typical year: "
SEA = b'{"message":"Location over the sea. Please, select another location","status":400}'
"""The service's words and form: from memory."""


def fails(capsys, *more):
    """Ask in vain; return what was told on the error stream after the remark of what is asked."""
    capsys.readouterr()
    assert cli.main(["weather", "--out", "mine.csv", *more]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert list(Path.cwd().iterdir()) == []
    assert not cache_folder().exists() or list(cache_folder().iterdir()) == []
    lines = told.err.splitlines(keepends=True)
    assert len([line for line in lines if line.startswith("yieldkit: ")]) == 1
    return lines[-1]


@pytest.mark.parametrize(
    ("way", "told", "times"),
    [
        (answer(b"slow down", 429, "text/plain"), "a refusal, for too many questions (429)", 1),
        (
            # Newer forms of the protocol send no words beside the number.
            answer(b"slow down", 429, "text/plain", " "),
            "a refusal, for too many questions (429)",
            1,
        ),
        (
            answer(b'{"message":"Too Many Requests","status":429}', 429),
            "a refusal, for too many questions (429)",
            1,
        ),
        (answer(PAGE, 500, "text/html"), "an error of the service's own (500)", 1),
        (answer(b"[]", 503), "an answer that can't be read (TypeError: ", 1),
        (answer(b'{"inputs": {}}'), "an answer that can't be read (KeyError: ", 1),
        (answer(b"", 200), "an answer that holds no data", 1),
        (cut_off(b"x" * 4000, 4000), "an answer that breaks off, asked twice", 2),
    ],
)
def test_each_failure_is_one_sentence(asked, capsys, way, told, times):
    asked.answer(way)
    sentence = fails(capsys, "--at", "45,8")
    assert sentence.startswith(f"{JRC}got {told}")
    assert sentence.endswith(LATER)
    assert len(asked.questions) == times


def test_a_web_page_in_place_of_data(asked, capsys):
    asked.answer(answer(PAGE, 200, "text/html"))
    assert fails(capsys, "--at", "45,8") == (
        f"{JRC}got a web page; expected data. Is the service down or busy, or does a login page "
        f"of this network stand between? {LATER}"
    )


def test_an_answer_cut_off_in_the_middle(asked, capsys):
    whole = typical_year()
    asked.answer(cut_off(whole, len(whole)))
    sentence = fails(capsys, "--at", "45,8")
    assert (
        sentence
        == f"{JRC}got an answer that breaks off, asked twice; expected a whole answer. {LATER}"
    )
    asked.answer(cut_off(whole))
    sentence = fails(capsys, "--at", "45,8")
    assert sentence == f"{JRC}got an answer that breaks off; expected a whole answer. {LATER}"


def test_a_table_cut_off_at_a_lines_end_is_no_short_year(asked, capsys, monkeypatch):
    monkeypatch.setenv(services.KEY, "hush-hush-key")
    monkeypatch.setenv(services.MAIL, "me@example.org")
    lines = nsrdb_hours().splitlines(keepends=True)
    asked.answer(answer(b"".join(lines[: 3 + 4000]), kind="text/csv"))
    words = ("--at", "40.53,-108.54", "--source", "nsrdb-hourly", "--years", "2023")
    assert fails(capsys, *words) == (
        "yieldkit: NSRDB, hourly years: got an answer of 4,000 hours; expected 8,760 hours. "
        + LATER
    )


def test_the_recorded_answer_of_a_few_hours_on_a_tilt_is_refused(asked, capsys):
    form = json.loads(invented_hours())
    form["outputs"]["hourly"] = form["outputs"]["hourly"][:5]
    asked.answer(answer(json.dumps(form).encode()))
    told = fails(capsys, "--at", "45,8", "--years", "2019")
    assert "got an answer of 5 hours; expected 8,760 hours." in told
    name = "pvgis_hourly_Timeseries_45.000_8.000_SA2_10kWp_CIS_5_2a_2013_2014.json"
    asked.answer(answer(recorded(name)))
    told = fails(capsys, "--at", "45,8", "--years", "2019")
    assert "an answer that can't be read (KeyError: 'poa_direct')" in told


def test_silence_is_given_up_on_after_one_more_try(asked, capsys, monkeypatch):
    monkeypatch.setattr(asking, "TIMEOUT_S", 0.2)
    asked.answer(silence(1.0))
    begin = time.monotonic()
    sentence = fails(capsys, "--at", "45,8")
    assert sentence == f"{JRC}got no answer within 0.2 s, asked twice; expected data. {LATER}"
    assert len(asked.questions) == 2
    assert time.monotonic() - begin < 5.0


def test_silence_of_a_service_that_is_not_told_how_long_to_wait(asked, capsys, monkeypatch):
    monkeypatch.setattr(asking, "TIMEOUT_S", 0.2)
    asked.answer(silence(1.0))
    words = ("--at", "45,8", "--source", "nasa-power", "--years", "2019")
    assert "got no answer within 0.2 s, asked twice; expected data." in fails(capsys, *words)
    assert len(asked.questions) == 2


def test_one_silence_is_forgiven(asked, capsys, monkeypatch):
    monkeypatch.setattr(asking, "TIMEOUT_S", 1.0)
    asked.answer(silence(2.0), answer(typical_year()))
    assert cli.main(["weather", "--at", "45,8", "--out", "mine.csv"]) == 0


def test_people_wait_half_a_minute():
    assert asking.TIMEOUT_S == 30.0


def test_no_network(asked, capsys, monkeypatch):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    for name in services.ADDRESSES:
        monkeypatch.setitem(services.ADDRESSES, name, f"http://127.0.0.1:{port}/")
    told = (
        "got no connection; expected a network that leads to the service. Nothing was written. "
        "Is this computer on the network, with its proxy set?\n"
    )
    assert fails(capsys, "--at", "45,8") == JRC + told
    assert told in fails(capsys, "--at", "45,8", "--source", "nasa-power", "--years", "2019")


def test_the_sea(asked, capsys):
    asked.answer(answer(SEA, 400))
    assert fails(capsys, "--at", "44,9") == (
        f"{JRC}got a refusal in these words: 'Location over the sea. Please, select another "
        "location'; expected data. Nothing was written. Change --at, --years or --source.\n"
    )


def test_a_long_and_steering_refusal_stays_one_plain_line(asked, capsys):
    words = "\u001b[31mno\n" + "x" * 4000
    asked.answer(answer(json.dumps({"message": words}).encode(), 400))
    sentence = fails(capsys, "--at", "44,9")
    assert "'[31mno xxx" in sentence
    assert len(sentence) < 500


def test_nasa_power_s_own_failures(asked, capsys):
    words = ("--at", "45,8", "--source", "nasa-power", "--years", "2019")
    asked.answer(answer(PAGE, 429, "text/html"))
    assert "got a web page; expected data." in fails(capsys, *words)
    asked.answer(answer(b'{"messages": ["years out of range"]}', 422))
    assert "a refusal in these words: '{'messages': ['years out of range']}'" in fails(
        capsys, *words
    )
    whole = invented_power()
    asked.answer(cut_off(whole))
    assert "got an answer that breaks off; expected a whole answer." in fails(capsys, *words)


def test_no_message_repeats_the_key(asked, capsys, monkeypatch):
    words = ("--at", "40.53,-108.54", "--source", "nsrdb-typical-year")
    told = fails(capsys, *words)
    assert told == (
        "yieldkit: the environment variable YIELDKIT_NSRDB_KEY: got nothing; expected the key in "
        "YIELDKIT_NSRDB_KEY and the mail address it was given to in YIELDKIT_NSRDB_EMAIL. The "
        "service gives keys free of charge; it is not written to any file.\n"
    )
    monkeypatch.setenv(services.KEY, "hush-hush-key")
    monkeypatch.setenv(services.MAIL, "me@example.org")
    monkeypatch.setenv("YIELDKIT_TRACEBACK", "1")
    asked.answer(answer(b'{"errors": ["hush-hush-key has no rights"]}', 400))
    assert "a refusal in these words: '['*** has no rights']'" in fails_with_trace(capsys, words)
    asked.answer(answer(b"<h1>forbidden</h1>", 403, "text/html"))
    assert "a refusal of the key (403); expected a key the service knows." in fails_with_trace(
        capsys, words
    )
    monkeypatch.setitem(services.ADDRESSES, "nsrdb-typical-year", "http://127.0.0.1:9/")
    assert "got no connection" in fails_with_trace(capsys, words)


def fails_with_trace(capsys, words):
    assert cli.main(["weather", "--out", "mine.csv", *words]) == 2
    told = capsys.readouterr().err
    assert "Traceback" in told
    assert "hush" not in told
    assert "example.org" not in told
    return told


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "yieldkit weather: got no place; expected a site file, --at LAT,LON or --into SITE."),
        (
            ("--at", "-33,9,151"),
            "--at: got '-33,9,151'; expected latitude and longitude in degrees, such as 45.1,8.2 "
            "or -33.9,151. North and east are positive.",
        ),
        (
            ("--at", "151,-33.9"),
            "--at: got latitude 151 and longitude -33.9; expected a latitude from -90 to 90 and a "
            "longitude from -180 to 180. Latitude and longitude swapped? Write the latitude first.",
        ),
        (
            ("--at", "45,8", "--years", "2019-2016"),
            "--years: got '2019-2016'; expected a year or two, such as 2018 or 2016-2018, earlier "
            "first.",
        ),
        (
            ("--at", "45,8", "--source", "nasa-powr"),
            "--source: got 'nasa-powr'; expected one of jrc-typical-year, jrc-hourly, nasa-power, "
            "nsrdb-typical-year, nsrdb-hourly. Did you mean 'nasa-power'?",
        ),
        (
            ("--at", "45,8", "--source", "nasa-power"),
            "--years: got no years with nasa-power; expected years, such as --years 2018-2020.",
        ),
        (
            ("--at", "45,8", "--time-zone", "noon"),
            "--time-zone: got 'noon'; expected an offset such as 'UTC+01:00' or an IANA zone such "
            "as 'Etc/GMT-1'.",
        ),
        (
            ("roof.yaml",),
            "roof.yaml: got no file; expected a site file. Make one: yieldkit new FILE --at "
            "LAT,LON.",
        ),
        (
            ("roof.yaml", "--at", "45,8"),
            "--at: got '45,8' beside the site 'roof.yaml'; expected one place. The site's own "
            "place counts: change its latitude and longitude, or leave one of the two out.",
        ),
        (
            ("roof.yaml", "--into", "other.yaml"),
            "--into: got 'other.yaml' beside the site 'roof.yaml'; expected weather written into "
            "the site it is of. Leave one of the two out.",
        ),
        (
            ("--at", "45,8", "--out", "."),
            ".: got a folder; expected the name of a file. Name a file with --out.",
        ),
    ],
)
def test_what_is_asked_wrongly_is_told_before_anything_is_asked(asked, capsys, words, told):
    asked.answer(answer(typical_year()))
    sentence = fails(capsys, *words)
    assert sentence.startswith(f"yieldkit: {told}")
    assert asked.questions == []


def test_a_sites_own_zone_that_is_none(asked, capsys, tmp_path):
    site = tmp_path / "roof.yaml"
    site.write_text("site: {latitude: 45, longitude: 8, time_zone: noon}\n")
    told = fails(capsys, str(site))
    assert f"{site}, site.time_zone: got 'noon'; expected an offset" in told


def test_a_proxy_that_is_not_there(asked, capsys, monkeypatch):
    monkeypatch.delenv("NO_PROXY")
    monkeypatch.setenv("HTTP_PROXY", "http://127.0.0.1:9")
    monkeypatch.setitem(services.ADDRESSES, "jrc", "http://weather.invalid/")
    assert f"{JRC}got no connection; " in fails(capsys, "--at", "45,8")


def test_years_of_a_source_with_one_typical_year(asked, capsys, monkeypatch):
    monkeypatch.setenv(services.KEY, "hush-hush-key")
    monkeypatch.setenv(services.MAIL, "me@example.org")
    words = ("--at", "45,8", "--source", "nsrdb-typical-year", "--years", "2019")
    assert "--years: got years with nsrdb-typical-year; expected no years: it has" in fails(
        capsys, *words
    )
    assert asked.questions == []


def test_a_typical_year_without_its_instants_is_refused(asked, capsys):
    content = json.loads(typical_year())
    del content["inputs"]["location"]["irradiance_time_offset"]
    asked.answer(answer(json.dumps(content).encode()))
    told = fails(capsys, "--at", "45,8")
    assert "an answer that can't be read (KeyError: 'irradiance_time_offset')" in told


def test_values_that_no_sky_has_leave_no_file(asked, capsys):
    content = json.loads(typical_year())
    content["outputs"]["tmy_hourly"][4000]["G(h)"] = 90_000.0
    asked.answer(answer(json.dumps(content).encode()))
    capsys.readouterr()
    assert cli.main(["weather", "--at", "45,8", "--out", "mine.csv"]) == 2
    assert "mine.csv, ghi" in capsys.readouterr().err
    assert not (Path.cwd() / "mine.csv").exists()
