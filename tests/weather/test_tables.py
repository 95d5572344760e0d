"""Tables as people have them: spreadsheets' separators, decimals, dates and letters."""

import json
import os
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest

from tests.archives import archive
from tests.weather.clear_sky import minutes
from yieldkit.base.errors import InputError
from yieldkit.config.site.files import load_site
from yieldkit.weather.readers.read import read_weather
from yieldkit.weather.readers.source import Source

pytestmark = pytest.mark.slow

COLUMNS = {"time": "Zeit", "ghi": "Globalstrahlung [W/m²]", "temp_air": "Luft °C"}
SAID = Source(
    columns=COLUMNS,
    zone="UTC+01:00",
    sampling="mean",
    label="start",
    latitude=45.0,
    longitude=8.0,
    altitude_m=200.0,
)


def rows(days=20, first=0):
    """Return hours of clear days, times by the local clock."""
    table = minutes("2019-06-01", 20).resample("60min").mean().iloc[24 * first : 24 * days]
    local = pd.DatetimeIndex(table.index.tz_convert(None)) + pd.Timedelta("1h")
    return local, (1.1 * table["ghi"]).round(2).to_numpy(), 11.5 + table["ghi"].to_numpy() / 80.0


def written(
    folder, form="%Y-%m-%d %H:%M", sep=",", decimal=".", encoding="utf-8", head="", days=20, first=0
):
    """Write a table as a spreadsheet does and return its path."""
    local, ghi, air = rows(days, first)
    table = pd.DataFrame({COLUMNS["time"]: local.strftime(form), COLUMNS["ghi"]: ghi})
    table["Bemerkung"] = "x"
    table[COLUMNS["temp_air"]] = air.round(1)
    text = head + table.to_csv(index=False, sep=sep, decimal=decimal, lineterminator="\r\n")
    path = folder / "own.csv"
    path.write_bytes(text.encode(encoding))
    return path


def same(path, said=SAID):
    """Assert that a table is read as it was meant."""
    local, ghi, air = rows()
    found = read_weather(path, "csv", said)
    assert found["ghi"].to_numpy() == pytest.approx(ghi, abs=0.006)
    assert found["temp_air"].to_numpy() == pytest.approx(air, abs=0.06)
    assert (pd.DatetimeIndex(found.indexes["time"]) == local - pd.Timedelta("1h")).all()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize(
    ("form", "sep", "decimal"),
    [
        ("%d.%m.%Y %H:%M", ";", ","),
        ("%d/%m/%Y %H:%M:%S", ";", ","),
        ("%m/%d/%Y %I:%M %p", ",", "."),
        ("%Y-%m-%dT%H:%M:%S", "\t", ","),
        ("%Y/%m/%d %H:%M", "|", "."),
        ("%d-%m-%Y %H:%M", ",", ","),
        ("%m.%d.%Y %H:%M", ";", "."),
    ],
)
def test_what_can_mean_one_thing_only_is_found(tmp_path, form, sep, decimal, encoding):
    same(written(tmp_path, form, sep, decimal, encoding))


def test_lines_above_the_header_are_passed_over(tmp_path):
    head = "Station 7; Auszug\r\n# made by hand\r\n\r\n"
    same(written(tmp_path, "%d.%m.%Y %H:%M", ";", ",", head=head))


def test_thousands_are_seen_beside_decimals(tmp_path):
    path = written(tmp_path, "%d.%m.%Y %H:%M", ";", ",")
    text = path.read_text(encoding="utf-8")
    ghi = rows()[1].max()
    assert ghi > 1000.0
    plain = f"{ghi:.2f}".rstrip("0").replace(".", ",")
    path.write_text(text.replace(plain, f"{plain[0]}.{plain[1:]}"), encoding="utf-8")
    same(path)


def test_midnight_written_as_24_is_the_next_days_beginning(tmp_path):
    path = written(tmp_path, "%d.%m.%Y %H:%M", ";", ",")
    text = path.read_text(encoding="utf-8")
    for day in range(3, 21):
        text = text.replace(f"{day:02d}.06.2019 00:00", f"{day - 1:02d}.06.2019 24:00")
    assert "24:00" in text
    path.write_text(text, encoding="utf-8")
    same(path)


def test_days_that_may_be_months_are_asked_for(tmp_path):
    path = written(tmp_path, "%d/%m/%Y %H:%M", ";", ",", days=9)
    with pytest.raises(InputError, match=r"may be day or month first") as refused:
        read_weather(path, "csv", SAID)
    assert "date_format: day-first" in str(refused.value)
    for said in ("day-first", "%d/%m/%Y %H:%M"):
        found = read_weather(path, "csv", SAID._replace(date_format=said))
        assert found.sizes["time"] == 9 * 24
        assert str(found["time"].to_numpy()[-1]).startswith("2019-06-09T23:00")


def test_a_decimal_that_may_be_thousands_is_asked_for(tmp_path):
    path = written(tmp_path, sep=";")
    table = pd.read_csv(path, sep=";")
    table[COLUMNS["ghi"]] = [f"{1 + value:.3f}".replace(".", ",") for value in rows()[1] / 320.0]
    table[COLUMNS["temp_air"]] = table[COLUMNS["temp_air"]].round().astype(int)
    table.to_csv(path, sep=";", index=False)
    with pytest.raises(InputError, match="may be a decimal or thousands") as refused:
        read_weather(path, "csv", SAID)
    assert "Write decimal: ',' or decimal: '.' into the weather block" in str(refused.value)
    with pytest.raises(InputError, match=r"got 4\d\d\d W/m2"):
        read_weather(path, "csv", SAID._replace(decimal="."))
    with pytest.raises(InputError, match=r"a maximum of 4\.\d+; .* kW/m2"):
        read_weather(path, "csv", SAID._replace(decimal=","))


def test_signs_of_no_known_set_are_asked_for(tmp_path):
    path = tmp_path / "own.csv"
    path.write_bytes(b"Zeit;Globalstrahlung\x81\x8d;Luft\n")
    with pytest.raises(InputError, match="neither UTF-8 nor the Windows set") as refused:
        read_weather(path, "csv", SAID)
    assert "Write encoding: ... into the weather block" in str(refused.value)
    with pytest.raises(InputError, match=r"weather\.encoding: got 'no-such'; expected the name"):
        read_weather(path, "csv", SAID._replace(encoding="no-such"))
    with pytest.raises(InputError, match=r"got 'utf-8', which own\.csv isn't written in"):
        read_weather(path, "csv", SAID._replace(encoding="utf-8"))


def test_everything_that_is_unclear_is_asked_at_once(tmp_path):
    path = written(tmp_path, "%d/%m/%Y %H:%M", ";", ",", days=9)
    said = Source(columns={name: COLUMNS[name] for name in ("time", "ghi")})
    with pytest.raises(InputError, match="expected") as refused:
        read_weather(path, "csv", said)
    told = str(refused.value)
    for each in (
        "no weather.sampling",
        "no place",
        "no air temperature",
        "'Luft °C'",
        "may be day or month first",
    ):
        assert each in told
    lacking = said._replace(columns=said.columns | {"ghi": "Global"})
    with pytest.raises(InputError, match="expected 'Global'"):
        read_weather(path, "csv", lacking)
    iso = written(tmp_path, sep=";", decimal=",")
    with pytest.raises(InputError, match="times without a time zone"):
        read_weather(iso, "csv", lacking)
    path = written(tmp_path, "%d/%m/%Y %H:%M", ";", ",", days=9)
    with pytest.raises(InputError, match="expected") as refused:
        read_weather(path, "csv", Source())
    told = str(refused.value)
    assert "no weather.columns" in told
    assert "The file has the columns 'Zeit', 'Globalstrahlung [W/m²]', 'Bemerkung'" in told
    assert "no weather.sampling" in told


@pytest.mark.parametrize(
    ("cell", "sentence"),
    [
        ("31.02.2019 05:00", "'31.02.2019 05:00' in row 30 of the table"),
        ("0000-01-01 05:00", "got '0000-01-01 05:00'"),
        ("05:00", "got '05:00'"),
    ],
)
def test_a_time_that_is_none_is_refused_with_its_row(tmp_path, cell, sentence):
    path = written(tmp_path, "%d.%m.%Y %H:%M", ";", ",")
    text = path.read_text(encoding="utf-8").replace("02.06.2019 06:00", cell)
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="expected") as refused:
        read_weather(path, "csv", SAID)
    assert sentence in str(refused.value)
    assert "date_format" in str(refused.value)


@pytest.mark.parametrize("year", ["0000", "0001", "1600", "9999"])
def test_a_year_that_is_none_is_refused(tmp_path, year):
    path = written(tmp_path)
    text = path.read_text(encoding="utf-8").replace("2019-", f"{year}-")
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=f"{year}-06-01 01:00.*1900 to 2200"):
        read_weather(path, "csv", SAID)


def test_numbers_are_no_times(tmp_path):
    path = written(tmp_path)
    table = pd.read_csv(path)
    table[COLUMNS["time"]] = np.arange(len(table)) * 3600 + 1_559_347_200
    table.to_csv(path, index=False)
    with pytest.raises(InputError, match="got '1559347200'; expected times whose day and month"):
        read_weather(path, "csv", SAID)


def test_an_offset_in_the_times_needs_no_zone(tmp_path):
    path = written(tmp_path, "%Y-%m-%dT%H:%M:%S+01:00")
    same(path, SAID._replace(zone=None))


def test_a_file_in_latin_letters_of_an_archives_form_is_read(tmp_path):
    source = archive("pvlib==0.16.1") / "tests" / "data" / "NLD_Amsterdam062400_IWEC.epw"
    text = source.read_text(encoding="utf-8").replace("AMSTERDAM", "Ångström-Größe", 1)
    path = tmp_path / "own.epw"
    path.write_bytes(text.encode("latin-1"))
    found = read_weather(path, "epw")
    assert found.attrs["title"] == "EPW Ångström-Größe"
    assert json.loads(found.attrs["quality"])["ghi_kwh_m2"] == pytest.approx(982.0, abs=1.0)


@pytest.mark.parametrize("kind", ["pipe", "folder"])
def test_what_is_no_file_is_refused_and_nobody_waits(tmp_path, kind):
    path = tmp_path / "own.csv"
    os.mkfifo(path) if kind == "pipe" else path.mkdir()
    with pytest.raises(InputError, match=f"which is a {kind}; expected a file that can be read"):
        read_weather(path, "csv", SAID)
    with pytest.raises(InputError, match=f"a path to a {kind}; expected a site file"):
        load_site(path)


def test_a_pipe_as_site_ends_the_command(tmp_path):
    path = tmp_path / "site.yaml"
    os.mkfifo(path)
    command = [sys.executable, "-m", "yieldkit", "check", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "a path to a pipe; expected a site file" in done.stderr
