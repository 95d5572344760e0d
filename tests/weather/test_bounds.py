"""Weather that can't be: wrong units, wrong columns, marks of missing values, strangers."""

import json

import numpy as np
import pytest

from tests.weather.clear_sky import PLACE, minutes
from yieldkit.base.errors import InputError
from yieldkit.base.measured_planes import PLANE_QUANTITIES
from yieldkit.weather.quality.bounds import BOUNDS
from yieldkit.weather.readers.canonical import Sampling, from_frame
from yieldkit.weather.readers.variables import VARIABLES

MEANS = Sampling("mean", "start")


def hours():
    """Return twenty clear days of hourly means with every column."""
    table = minutes().resample("60min").mean()
    return table.assign(
        pressure=99_000.0, relative_humidity=50.0, rain=0.4, snowfall=0.0, snow_depth=0.0
    )


def refusal(table, **more):
    """Return what is said of a table that is refused."""
    with pytest.raises(InputError, match="expected") as refused:
        from_frame(table, PLACE, MEANS, **more)
    return str(refused.value)


def test_every_column_has_bounds_with_a_source():
    assert set(BOUNDS) == set(VARIABLES) | set(PLANE_QUANTITIES)
    for bound in BOUNDS.values():
        assert bound.low < bound.high
        assert any(mark in bound.source for mark in ("from memory", "common practice"))


@pytest.mark.parametrize(
    ("column", "value", "sentence"),
    [
        ("temp_air", -200.0, "degC, from -90 to 60"),
        ("temp_air", -127.0, "The code of a thermometer that isn't connected?"),
        ("temp_air", -np.inf, "A number that overflowed?"),
        ("temp_air", 1e308, "A number that overflowed?"),
        ("ghi", 1e308, "no more than 1600 W/m2"),
        ("ghi", np.inf, "no more than 1600 W/m2"),
        ("dni", 1500.0, "no more than 1420 W/m2"),
        ("dhi", 1500.0, "no more than 1390 W/m2"),
        ("dhi", -np.inf, "no less than -25 W/m2"),
        ("wind_speed", np.inf, "m/s, from 0 to 100"),
        ("pressure", 5.0, "Pa, from 30000 to 110000"),
        ("relative_humidity", 300.0, "%, from 0 to 110"),
        ("rain", 700.0, "mm, from 0 to 400"),
        ("rain", -1.0, "mm, from 0 to 400"),
        ("snowfall", 170.0, "cm, from 0 to 100"),
        ("snow_depth", -3.0, "cm, from 0 to 1200"),
    ],
)
def test_one_cell_out_of_bounds_is_refused_with_its_time(column, value, sentence):
    table = hours()
    table.iloc[130, table.columns.get_loc(column)] = value
    said = refusal(table, fill_gaps_up_to_h=3.0)
    assert f"weather, {column}: got" in said
    assert "1 row out of bounds, the first at 2019-06-06 10:00 UTC" in said
    assert sentence in said


@pytest.mark.parametrize(
    ("column", "factor", "sentence"),
    [
        ("pressure", 0.01, "Is the column in hPa (millibar)? Multiply it by 100."),
        ("pressure", 0.001, "Is the column in kPa? Multiply it by 1000."),
        ("relative_humidity", 0.01, "Is the column a share of one? Multiply it by 100."),
        ("rain", 0.001, "a maximum of 0.0004; expected mm in each step. Is the column in m? "),
        ("rain", 0.001, "Multiply it by 1000; where it hardly ever rains, leave it out."),
    ],
)
def test_another_unit_is_named(column, factor, sentence):
    table = hours()
    table[column] *= factor
    assert sentence in refusal(table)


def test_light_in_every_row_is_refused():
    assert "no more than 1390 W/m2" in refusal(hours().assign(dhi=1500.0))
    # Within the bound of the column, but not of one sky with the rest.
    said = refusal(hours().assign(dhi=1300.0))
    assert "diffuse above global irradiance in" in said


@pytest.mark.parametrize("column", ["ghi", "dni", "dhi", "temp_air", "wind_speed"])
def test_a_column_without_any_value_is_refused_however_long_gaps_may_be(column):
    said = refusal(hours().assign(**{column: np.nan}), fill_gaps_up_to_h=3.0)
    assert f"weather, {column}: got no value in any of 480 rows" in said


def test_a_column_that_nothing_uses_may_be_empty():
    found = from_frame(hours().assign(pressure=999999.0), PLACE, MEANS)
    assert "pressure" not in found


def test_marks_of_missing_temperature_are_gaps_and_named():
    table = hours()
    table.iloc[::3, table.columns.get_loc("temp_air")] = -99.9
    holed = from_frame(table, PLACE, MEANS)
    assert int(holed["temp_air"].isnull().sum()) == 160
    assert float(holed["temp_air"].min()) == pytest.approx(20.0)
    quality = json.loads(holed.attrs["quality"])
    assert quality["missing_steps"] == 160
    assert any("160 x -99.9 in temp_air" in each for each in quality["cautions"])
    table["pressure"] = 99999.0  # is a pressure, no mark
    filled = from_frame(table, PLACE, MEANS, fill_gaps_up_to_h=1.0)
    assert float(filled["temp_air"].min()) == pytest.approx(20.0)
    assert (filled["pressure"] == 99999.0).all()
    cautions = json.loads(filled.attrs["quality"])["cautions"]
    assert any("160 x -99.9 in temp_air" in each for each in cautions)


def test_direct_and_diffuse_swapped_are_refused():
    table = hours()
    said = refusal(table.assign(dni=table["dhi"], dhi=table["dni"]))
    assert "diffuse above global irradiance in" in said
    assert "Are the columns of dni and dhi swapped?" in said
    assert "leave dni and dhi out, so that they are modelled from global" in said


def test_global_taken_for_diffuse_is_refused():
    table = hours()
    said = refusal(table.assign(dhi=table["ghi"]))
    assert "the values of ghi once more in dhi" in said
    assert "Is dhi read from the column of global irradiance?" in said
    assert "Is dni read from" in refusal(table.assign(dni=table["ghi"]))


def test_direct_light_on_the_horizontal_is_refused():
    table = hours()
    said = refusal(table.assign(dni=table["ghi"] - table["dhi"]).assign(dhi=0.05 * table["dhi"]))
    assert "times what diffuse and direct make of it" in said
    assert "direct irradiance on the horizontal?" in said


def test_a_sensors_gain_is_told():
    table = hours()
    table["ghi"] *= 1.08
    found = json.loads(from_frame(table, PLACE, MEANS).attrs["quality"])
    assert found["clock"] == "agrees"
    assert found["closure_gain"] == pytest.approx(1.08, abs=0.005)
    assert any("7.9 % more than diffuse and direct" in each for each in found["cautions"])
    as_it_is = json.loads(from_frame(hours(), PLACE, MEANS).attrs["quality"])
    assert as_it_is["cautions"] == []


@pytest.mark.parametrize("mark", [9999.0, 99999.0])
@pytest.mark.parametrize("column", ["ghi", "dni", "dhi"])
def test_marks_of_missing_light_are_gaps(column, mark):
    table = hours()
    table.loc[table.index[3], column] = mark
    found = from_frame(table, PLACE, MEANS)
    assert np.isnan(found[column].to_numpy()[3])
    assert f"1 x {mark:g} in {column}" in json.loads(found.attrs["quality"])["marks"]
