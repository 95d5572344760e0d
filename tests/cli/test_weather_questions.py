"""One answer asks all there is to ask of a site and its weather file; a check tells of it too."""

import pandas as pd
import pytest

from tests.config.dumped import dump_site
from yieldkit.cli.main import main
from yieldkit.config.site.files import load_site

pytestmark = pytest.mark.slow

WEATHER = "weather: {file: own.csv, format: csv"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Return a folder with a sheet that leaves much unsaid, worked in from another."""
    times = pd.date_range("2021-01-01", "2021-01-09", freq="h", inclusive="left")
    table = pd.DataFrame({"Datum": times.strftime("%d/%m/%Y %H:%M"), "Global": 0.0, "Luft": 10.0})
    (tmp_path / "plant").mkdir()
    table.to_csv(tmp_path / "plant" / "own.csv", sep=";", index=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path / "plant"


def asked(folder, capsys, weather, command="simulate", **swaps):
    """Write the demonstration with another weather block; return code and what is said."""
    text = dump_site(load_site()).split("\n")
    begin = next(number for number, line in enumerate(text) if line.startswith("weather:"))
    rest = [line for line in text[begin + 1 :] if True]
    while rest and rest[0].startswith(" "):
        rest.pop(0)
    whole = "\n".join([*text[:begin], weather, *rest])
    for old, new in swaps.items():
        assert f"{old}:" in whole
        whole = whole.replace(f"{old}:", new, 1)
    (folder / "site.yaml").write_text(whole, encoding="utf-8")
    more = ["--no-report"] if command == "compare" else []
    code = main([command, "plant/site.yaml", *more])
    return code, capsys.readouterr().err


def test_site_and_weather_file_are_asked_about_in_one_answer(folder, capsys):
    code, said = asked(folder, capsys, f"{WEATHER}}}", tilt_deg="tilt_degrees:")
    assert code == 2
    for each in (
        "unknown key 'tilt_degrees'",
        "format csv without sampling",
        "The file has the columns 'Datum', 'Global', 'Luft'",
        "own.csv, Datum: got '01/01/2021 00:00', which may be day or month first",
        "times without a time zone; expected weather.zone",
    ):
        assert each in said
    # What the file's own question says in more words isn't asked twice.
    assert "format csv without columns" not in said


def test_answering_all_of_it_leaves_nothing_to_ask(folder, capsys):
    columns = "columns: {time: Datum, ghi: Global, temp_air: Luft}"
    known = f"{WEATHER}, {columns}, zone: UTC+01:00, sampling: mean, label: start"
    code, said = asked(folder, capsys, f"{known}}}")
    assert code == 2
    assert said.count("yieldkit: ") == 1
    code, said = asked(folder, capsys, f"{known}, date_format: day-first}}")
    assert code == 0, said


def test_a_sensor_that_saw_no_light_is_a_yield_of_none_and_no_error(folder, capsys):
    table = pd.read_csv(folder / "own.csv", sep=";")
    assert (table["Global"] == 0.0).all()
    columns = "columns: {time: Datum, ghi: Global, temp_air: Luft}"
    known = f"{WEATHER}, {columns}, zone: UTC+01:00, sampling: mean, label: start"
    block = f"{known}, date_format: day-first}}"
    code, said = asked(folder, capsys, block, "compare")
    assert code in (0, 1), said


@pytest.mark.parametrize(
    "weather",
    [
        "weather: {file: nowhere.csv, format: csv}",
        "weather: {file: own.csv, format: nothing}",
        "weather: [1, 2]",
        f"{WEATHER}, sampling: 3}}",
    ],
)
def test_a_weather_block_that_leads_nowhere_adds_nothing(folder, capsys, weather):
    code, said = asked(folder, capsys, weather)
    assert code == 2
    assert "own.csv:" not in said
    assert "own.csv," not in said


def test_a_parser_that_breaks_leaves_the_sites_own_questions(folder, capsys):
    (folder / "own.parquet").write_bytes(b"no table at all")
    code, said = asked(folder, capsys, "weather: {file: own.parquet, format: parquet}")
    assert code == 2
    assert "format parquet without columns" in said


def test_an_encoding_that_is_none_is_asked_for_as_well(folder, capsys):
    code, said = asked(folder, capsys, f"{WEATHER}, encoding: no-such}}")
    assert code == 2
    assert "format csv without sampling" in said
    assert "weather.encoding: got 'no-such'" in said


def test_a_check_tells_what_the_weather_file_still_lacks(folder, capsys):
    columns = "columns: {time: Datum, ghi: Global, temp_air: Luft}"
    block = f"{WEATHER}, {columns}, sampling: mean, label: start}}"
    code, said = asked(folder, capsys, block, "check")
    assert code in (0, 1, 4)
    assert (
        "Caution: No yield can be worked out with this weather file yet: own.csv, Datum: got "
        "'01/01/2021 00:00', which may be day or month first" in said
    )
    assert said.rstrip().endswith("(and 1 more)")
