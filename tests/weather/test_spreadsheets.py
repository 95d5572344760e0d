"""Sheets whose date and time stand apart, with units under the names and months as words."""

import datetime

import pandas as pd
import pytest

from tests.weather.clear_sky import minutes
from yieldkit.base.errors import InputError
from yieldkit.weather.readers import dates
from yieldkit.weather.readers.read import read_weather
from yieldkit.weather.readers.source import Source

COLUMNS = {"time": "Date", "ghi": "GHI", "temp_air": "Air"}
SAID = Source(
    columns=COLUMNS,
    zone="UTC+01:00",
    sampling="mean",
    label="start",
    latitude=45.0,
    longitude=8.0,
    altitude_m=200.0,
)


@pytest.fixture(scope="module")
def hours():
    """Return hours of 20 clear days by the local clock."""
    table = minutes("2021-01-01", 20).resample("60min").mean()
    local = pd.DatetimeIndex(table.index.tz_convert(None)) + pd.Timedelta("1h")
    air = (9.5 + table["ghi"].to_numpy() / 80.0).round(1)
    return pd.DataFrame({"GHI": table["ghi"].round(1).to_numpy(), "Air": air}, index=local)


def sheet(hours, folder, day="%d.%m.%Y", clock="%H:%M", sep=";", units=(), name="Time"):
    """Write a sheet as people keep them, with `units` as rows under the names; return its path."""
    table = pd.DataFrame({"Date": hours.index.strftime(day)}, index=hours.index)
    if clock:
        table[name] = clock(hours.index) if callable(clock) else hours.index.strftime(clock)
    decimal = "," if sep == ";" else "."
    text = table.join(hours).to_csv(index=False, sep=sep, decimal=decimal)
    head, _, body = text.partition("\n")
    path = folder / "own.csv"
    path.write_text("\n".join((head, *units, body)), encoding="utf-8")
    return path


def same(path, hours, said=SAID):
    """Assert that a sheet is read as it was meant."""
    found = read_weather(path, "parquet" if path.suffix == ".parquet" else "csv", said)
    assert (pd.DatetimeIndex(found.indexes["time"]) == hours.index - pd.Timedelta("1h")).all()
    assert found["ghi"].to_numpy() == pytest.approx(hours["GHI"].to_numpy())
    assert found["temp_air"].to_numpy() == pytest.approx(hours["Air"].to_numpy())


def refused(path, said=SAID):
    """Return what is answered."""
    with pytest.raises(InputError, match="expected") as told:
        read_weather(path, "csv", said)
    return str(told.value)


@pytest.mark.parametrize("clock", ["%H:%M", "%H:%M:%S", "%I:%M %p"])
@pytest.mark.parametrize("day", ["%d.%m.%Y", "%m/%d/%Y", "%Y-%m-%d", "%d-%b-%Y", "%B %d, %Y"])
def test_a_time_of_day_beside_its_date_is_found(tmp_path, hours, day, clock):
    same(sheet(hours, tmp_path, day, clock), hours)


def test_whichever_of_date_and_time_is_named(tmp_path, hours):
    said = SAID._replace(columns=COLUMNS | {"time": "Time"})
    same(sheet(hours, tmp_path), hours, said)
    same(sheet(hours, tmp_path), hours, SAID._replace(columns=COLUMNS | {"clock": "Time"}))


@pytest.mark.parametrize(
    "clock",
    [
        lambda local: local.hour.astype(str),
        lambda local: (100 * local.hour).astype(str),
        lambda local: local.strftime("%H%M"),
    ],
)
def test_hours_and_digits_alone_are_read_where_they_are_named(tmp_path, hours, clock):
    path = sheet(hours, tmp_path, clock=clock, name="Hour")
    told = refused(path)
    assert "own.csv, Date: got dates alone; expected the date and the time of day" in told
    assert "Write columns: {time: DATE, clock: TIME, ...}" in told
    same(path, hours, SAID._replace(columns=COLUMNS | {"clock": "Hour"}))


def test_hours_that_count_to_24_end_at_midnight(tmp_path, hours):
    ended = hours.set_axis(hours.index + pd.Timedelta("1h"), axis="index")
    day = (ended.index - pd.Timedelta("1h")).strftime("%Y-%m-%d")
    table = ended.assign(Date=day, Hour=((ended.index.hour + 23) % 24 + 1))
    assert table["Hour"].max() == 24
    path = tmp_path / "own.csv"
    table.to_csv(path, index=False)
    said = SAID._replace(columns=COLUMNS | {"clock": "Hour"}, label="end")
    same(path, hours, said)


def test_two_columns_of_times_beside_the_date_are_asked_for(tmp_path, hours):
    path = sheet(hours, tmp_path)
    table = pd.read_csv(path, sep=";", dtype=str)
    table.insert(2, "Received", table["Time"])
    table.to_csv(path, sep=";", index=False)
    told = refused(path, SAID._replace(zone=None))
    assert "Do the others stand in 'Time' or 'Received'?" in told
    assert "times without a time zone" in told
    same(path, hours, SAID._replace(columns=COLUMNS | {"clock": "Received"}))


def test_times_without_any_date_are_asked_for(tmp_path, hours):
    path = sheet(hours, tmp_path)
    table = pd.read_csv(path, sep=";", dtype=str).drop(columns="Date")
    table.to_csv(path, sep=";", index=False)
    told = refused(path, SAID._replace(columns=COLUMNS | {"time": "Time"}))
    assert "own.csv, Time: got times of day alone; expected the date and the time of day" in told


def test_a_typed_table_may_keep_them_apart_as_well(tmp_path, hours):
    table = hours.assign(Date=hours.index.normalize(), Time=[each.time() for each in hours.index])
    assert isinstance(table["Time"].iloc[0], datetime.time)
    path = tmp_path / "own.parquet"
    table.reset_index(drop=True).to_parquet(path)
    same(path, hours, SAID._replace(columns=COLUMNS | {"clock": "Time"}))


@pytest.mark.parametrize("day", ["%d-%b-%Y", "%d %B %Y", "%d. %b %Y", "%Y-%b-%d", "%d-%b-%y"])
@pytest.mark.parametrize("case", [str, str.upper])
def test_months_as_english_words_are_read(tmp_path, hours, day, case):
    path = sheet(hours, tmp_path, f"{day} %H:%M", clock="")
    path.write_text(case(path.read_text(encoding="utf-8")), encoding="utf-8")
    columns = {name: case(column) for name, column in COLUMNS.items()}
    same(path, hours, SAID._replace(columns=columns))


@pytest.mark.parametrize("form", ["%b %d, %Y %H:%M", "%B %d, %Y, %I:%M:%S %p", "%b %d %Y %H:%M"])
def test_months_as_english_words_in_front_are_read(tmp_path, hours, form):
    path = sheet(hours, tmp_path, form, clock="")
    same(path, hours)


def test_a_short_year_that_may_be_a_day_is_asked_for(tmp_path, hours):
    few = hours.iloc[:72]
    path = sheet(few, tmp_path, "%d-%b-%y %H:%M", clock="")
    told = refused(path)
    assert "got '01-Jan-21 01:00'; expected times whose day and year can be told apart" in told
    assert "Write the order in signs, such as date_format: '%d-%b-%y %H:%M'" in told
    for said in ("day-first", "%d-%b-%y %H:%M"):
        same(path, few, SAID._replace(date_format=said))
    wrong = read_weather(path, "csv", SAID._replace(date_format="%y-%b-%d %H:%M", sampling="mean"))
    assert str(wrong["time"].to_numpy()[0]).startswith("2001-01-21")


@pytest.mark.parametrize("form", ["%d.%m.%y %H:%M", "%m/%d/%y %I:%M %p", "%d-%m-%y %H:%M"])
def test_years_of_two_digits_are_read(tmp_path, hours, form):
    same(sheet(hours, tmp_path, form, clock=""), hours)


def test_a_year_of_two_digits_that_may_be_a_day_is_asked_for(tmp_path, hours):
    few = hours.iloc[:72]
    path = sheet(few, tmp_path, "%d-%m-%y %H:%M", clock="")
    told = refused(path)
    assert "own.csv, Date: got '01-01-21 01:00', with a year of two digits; expected times" in told
    same(path, few, SAID._replace(date_format="day-first"))


def test_months_in_another_language_are_answered_with_what_helps(tmp_path, hours):
    path = sheet(hours, tmp_path, "%d-%b-%Y %H:%M", clock="")
    text = path.read_text(encoding="utf-8").replace("Jan", "Jän")
    path.write_text(text, encoding="utf-8")
    told = refused(path)
    assert "'01-Jän-2021 01:00', with a month that is no English word" in told
    assert "Format the column as yyyy-mm-dd hh:mm in the spreadsheet and save it again" in told


@pytest.mark.parametrize(
    "units",
    [
        (";;W/m2;degC",),
        ("dd.mm.yyyy;hh:mm;[W/m²];[°C]",),
        ("TS;RN;W/m^2;C", ";;Avg;Smp"),
        ("", ";;;", "-;-;Wh/m2;°C"),
    ],
)
def test_rows_of_units_under_the_names_are_passed_over(tmp_path, hours, units):
    same(sheet(hours, tmp_path, units=units), hours)


def test_a_first_row_without_values_is_no_row_of_units(tmp_path, hours):
    path = sheet(hours, tmp_path, units=("01.01.2021;00:00;NaN;",))
    found = read_weather(path, "csv", SAID)
    assert found.sizes["time"] == len(hours) + 1
    assert found["ghi"].isnull().to_numpy()[:2].tolist() == [True, False]


@pytest.mark.parametrize(
    ("unit", "name", "sentence"),
    [
        ("kW/m2", "GHI", "the unit 'kW/m2'; expected W/m2. Multiply its values by 1000, and write"),
        ("J/cm²", "GHI", "Multiply its values by 10,000 and divide them by the seconds of a step"),
        ("MJ m-2", "GHI", "Multiply its values by 1,000,000 and divide them by the seconds of"),
        ("klx", "GHI", "light as the eye sees it is another quantity"),
        ("°F", "Air", "the unit '°F'; expected degC. Subtract 32 from its values and divide them"),
        ("K", "Air", "Subtract 273.15 from its values, and write degC in place of the unit"),
        ("km/h", "Wind", "the unit 'km/h'; expected m/s. Divide its values by 3.6"),
        ("m", "Rain", "the unit 'm'; expected mm. Multiply its values by 1000, and write mm in"),
        ("mm", "Snow", "the unit 'mm'; expected cm. Divide its values by 10, and write cm in"),
        ("kW/m2", "Rack", "expected W/m2. Multiply its values by 1000, and write W/m2 in place"),
        ("K", "Back", "Subtract 273.15 from its values, and write degC in place of the unit"),
        ("kn", "Wind", "Multiply its values by 0.514, and write m/s in place of the unit"),
    ],
)
@pytest.mark.parametrize("beside", [False, True])
def test_a_unit_that_is_not_ours_is_refused(tmp_path, hours, unit, name, sentence, beside):
    # Wind in km/h has values that wind in m/s may have: only the unit tells.
    table = hours.assign(Wind=10.0, Rain=1.0, Snow=0.0, Rack=9.0, Back=9.0)
    said = SAID._replace(
        columns=COLUMNS | {"wind_speed": "Wind", "rain": "Rain", "snowfall": "Snow"}
    )
    said.columns.update({"poa_global of rack": "Rack", "temp_module of rack": "Back"})
    if beside:
        path = sheet(table.rename(columns={name: f"{name} ({unit})"}), tmp_path)
        names = {
            ours: f"{name} ({unit})" if own == name else own for ours, own in said.columns.items()
        }
        assert sentence in refused(path, said._replace(columns=names))
        return
    row = [unit if column == name else "-" for column in ("Date", "Time", *table)]
    assert sentence in refused(sheet(table, tmp_path, units=(";".join(row),)), said)


def test_energies_are_irradiances_in_hours_only(tmp_path, hours):
    halves = hours.resample("30min").interpolate()
    told = refused(sheet(halves.round(1), tmp_path, units=(";;Wh/m2;degC",)))
    assert "own.csv, GHI: got the unit Wh/m2 in steps of 1800 s; expected W/m2" in told
    assert "Multiply its values by 2, and write W/m2 in place of the unit" in told


def test_what_else_is_unclear_is_asked_in_the_same_answer(tmp_path, hours):
    path = sheet(hours.iloc[:72], tmp_path, "%m/%d/%Y", units=(";;kW/m2;degC",))
    said = SAID._replace(columns=COLUMNS | {"temp_air": "Luft"}, zone=None, sampling=None)
    told = refused(path, said)
    for each in (
        "which may be day or month first",
        "the unit 'kW/m2'",
        "times without a time zone",
        "no weather.sampling",
        "'Luft'",
    ):
        assert each in told


def test_a_time_column_of_another_name_is_looked_into_all_the_same(tmp_path, hours):
    path = sheet(hours.iloc[:72], tmp_path, "%m/%d/%Y %H:%M", clock="")
    told = refused(path, SAID._replace(columns=COLUMNS | {"time": "When"}, zone=None))
    assert "expected 'When'" in told
    assert "own.csv, Date: got '01/01/2021 01:00', which may be day or month first" in told
    assert "times without a time zone" in told


@pytest.mark.parametrize(
    ("firsts", "lasts", "found"),
    [
        (["32", "32"], ["04", "05"], True),
        (["31", "31"], ["04", "32"], False),
        (["31", "30"], ["04", "31"], None),
    ],
)
def test_no_month_has_a_thirty_second_day(firsts, lasts, found):
    assert dates._year_first(firsts, lasts) is found
