"""Archives' columns that nothing was measured for, tables of zeros, and a year without light."""

import numpy as np
import pandas as pd
import pytest

from tests.street.weather_files import epw
from tests.weather.clear_sky import minutes
from yieldkit.base.errors import InputError
from yieldkit.physics.irradiance import sky
from yieldkit.study.simulation.weather import weather_cautions
from yieldkit.weather.readers.canonical import sun_of
from yieldkit.weather.readers.read import read_weather
from yieldkit.weather.readers.source import Source

PLACE = {"latitude": 45.0, "longitude": 8.0, "altitude_m": 200.0}


def written(folder, **columns):
    """Write an archive's file of 20 clear days, with other values in some columns."""
    table = minutes().resample("60min").mean().assign(pressure=98_000.0)
    epw(table.assign(**columns).round(3), folder / "own.epw", PLACE, 1.0)
    return folder / "own.epw"


def test_direct_and_diffuse_of_marks_alone_are_modelled_and_told(tmp_path):
    found = read_weather(written(tmp_path, dni=9999, dhi=9999), "epw")
    sentence = (
        "The weather file has no values of dni and dhi: direct and diffuse are modelled from "
        "global irradiance."
    )
    assert sentence in weather_cautions(found)
    dni, dhi = sky.decompose(found["ghi"].to_numpy(), sun_of(found), "erbs-driesse")
    assert np.array_equal(found["dni"], dni)
    assert np.array_equal(found["dhi"], dhi)
    other = read_weather(tmp_path / "own.epw", "epw", decomposition="erbs")
    assert not np.allclose(other["dhi"], dhi)


def test_zeros_in_place_of_both_are_no_values(tmp_path):
    marked = read_weather(written(tmp_path, dni=9999, dhi=9999), "epw")
    zeros = read_weather(written(tmp_path, dni=0, dhi=0), "epw")
    assert np.array_equal(zeros["dni"], marked["dni"])
    assert weather_cautions(zeros) == weather_cautions(marked)


@pytest.mark.parametrize(
    ("column", "sentence"),
    [
        ("dni", "no values of dni: direct is made from global and diffuse irradiance."),
        ("dhi", "no values of dhi: diffuse is made from global and direct irradiance."),
    ],
)
def test_one_of_them_is_made_from_the_other(tmp_path, column, sentence):
    whole = read_weather(written(tmp_path), "epw")
    assert not any("no values of" in each for each in weather_cautions(whole))
    found = read_weather(written(tmp_path, **{column: 9999}), "epw")
    assert any(each.endswith(sentence) for each in weather_cautions(found))
    assert float(found["dhi"].sum()) == pytest.approx(float(whole["dhi"].sum()), rel=0.02)


def test_wind_of_marks_alone_is_assumed(tmp_path):
    found = read_weather(written(tmp_path, wind_speed=999), "epw")
    assert (found["wind_speed"] == 1.0).all()


@pytest.mark.parametrize("column", ["ghi", "temp_air"])
def test_what_a_yield_needs_is_not_left_out(tmp_path, column):
    mark = 99.9 if column == "temp_air" else 9999
    with pytest.raises(InputError, match=rf"own\.epw, {column}: got no value in any of 480 rows"):
        read_weather(written(tmp_path, **{column: mark}), "epw")


def test_a_table_with_zeros_for_both_is_refused(tmp_path):
    table = minutes().resample("60min").mean().assign(dni=0.0, dhi=0.0)
    names = {name: name for name in ("time", "ghi", "dni", "dhi", "temp_air")}
    table.reset_index(names="time").to_csv(tmp_path / "own.csv", index=False)
    said = Source(columns=names, sampling="mean", label="start", latitude=45.0, longitude=8.0)
    with pytest.raises(InputError, match=r"own\.csv, dni, dhi: got zero in all of \d+ lit") as told:
        read_weather(tmp_path / "own.csv", "csv", said)
    assert "leave dni and dhi out, so that they are modelled from global" in str(told.value)
    without = {name: column for name, column in names.items() if name not in ("dni", "dhi")}
    found = read_weather(tmp_path / "own.csv", "csv", said._replace(columns=without))
    assert float(found["dni"].max()) > 500.0


def test_a_table_of_nights_alone_is_not_called_dark(tmp_path):
    night = pd.date_range("2021-01-01T20:00Z", periods=6, freq="h")
    table = pd.DataFrame({"time": night, "ghi": 0.0, "dni": 0.0, "dhi": 0.0, "temp_air": 3.0})
    table.to_csv(tmp_path / "own.csv", index=False)
    names = {name: name for name in table}
    said = Source(columns=names, sampling="mean", label="start", latitude=45.0, longitude=8.0)
    assert float(read_weather(tmp_path / "own.csv", "csv", said)["ghi"].sum()) == 0.0
