"""Published weather files read as pvlib reads them, and what their clocks hide (data.md)."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

import yieldkit
from tests.archives import archive
from yieldkit.base.errors import InputError
from yieldkit.weather.readers.read import READERS, find_file, read_weather
from yieldkit.weather.readers.source import Source

pytestmark = pytest.mark.slow


def data(name):
    """Return a file of pvlib's source archive."""
    return archive("pvlib==0.16.1") / "tests" / "data" / name


def quality(dataset):
    """Return the quality account."""
    return json.loads(dataset.attrs["quality"])


def shipped_year():
    """Return the shipped typical year."""
    return read_weather("typical-year-45n-8e", "canonical")


def test_the_shipped_year_is_the_published_one():
    # Kept with one decimal.
    ours = shipped_year()
    path = data("tmy_45.000_8.000_2005_2023.csv")
    theirs, _meta = pvlib.iotools.read_pvgis_tmy(path, map_variables=True)[:2]
    assert ours.sizes["time"] == len(theirs) == 8760
    for name in ("ghi", "dni", "dhi", "temp_air", "wind_speed"):
        ordered = np.sort(theirs[name].to_numpy(dtype=float))
        assert np.sort(ours[name].to_numpy()) == pytest.approx(ordered, abs=0.0501), name
    assert quality(ours)["ghi_kwh_m2"] == pytest.approx(1436.0, abs=1.0)


def test_the_shipped_years_clock_agrees_with_the_sun():
    found = quality(shipped_year())
    assert found["clock"] == "agrees"
    # At 10.566 minutes after the label the root of the mean square is about 1 W/m2.
    assert found["closure_rms"] < 3.0
    assert shipped_year().attrs["sun_offset_s"] == pytest.approx(0.1761 * 3600.0, abs=0.5)


def test_the_shipped_year_taken_as_means_is_told():
    found = quality(
        read_weather("typical-year-45n-8e", "canonical", Source(sampling="mean", label="start"))
    )
    assert found["clock"] == "offset"
    assert "sampling: snapshot" in found["clock_remedy"]
    assert found["closure_rms"] > 15.0


def test_the_twin_in_another_format_stores_utc_under_a_local_header():
    twin = data("tmy_45.000_8.000_2005_2023.epw")
    with pytest.raises(InputError, match="clock") as refused:
        read_weather(twin, "epw")
    assert "probably stores UTC" in str(refused.value)
    right = read_weather(
        twin, "epw", Source(zone="UTC", sampling="snapshot", sun_offset_min=10.566)
    )
    assert quality(right)["clock"] == "agrees"
    assert quality(right)["ghi_kwh_m2"] == pytest.approx(1436.0, abs=1.5)


def test_amsterdam():
    # Read well: 982 kWh/m2; the "-2" in its header is the altitude.
    found = read_weather(data("NLD_Amsterdam062400_IWEC.epw"), "epw")
    assert quality(found)["ghi_kwh_m2"] == pytest.approx(982.0, abs=1.0)
    assert found.attrs["altitude_m"] == -2.0
    frame, _meta = pvlib.iotools.read_epw(data("NLD_Amsterdam062400_IWEC.epw"))
    assert float(found["temp_air"].mean()) == pytest.approx(frame["temp_air"].mean(), abs=1e-9)


@pytest.mark.parametrize("name", ["703165TY.csv", "723170TYA.CSV"])
def test_bundled_typical_years(name):
    path = Path(pvlib.__file__).parent / "data" / name
    found = read_weather(path, "tmy3")
    frame, meta = pvlib.iotools.read_tmy3(path, map_variables=True)
    assert found.sizes["time"] == 8760
    for column in ("ghi", "dni", "dhi"):
        ours, theirs = float(found[column].sum()), float(frame[column].sum())
        assert ours == pytest.approx(theirs, rel=1e-12)
    assert found.attrs["latitude"] == pytest.approx(meta["latitude"])
    assert found.attrs["label"] == "end"
    assert quality(found)["clock"] in ("agrees", "cannot tell")


def test_bundled_tmy2():
    path = Path(pvlib.__file__).parent / "data" / "12839.tm2"
    found = read_weather(path, "tmy2")
    frame, _meta = pvlib.iotools.read_tmy2(path)
    assert found.sizes["time"] == 8760
    assert float(found["ghi"].sum()) == pytest.approx(float(frame["GHI"].sum()), rel=1e-12)


@pytest.mark.parametrize("name", ["test_read_psm3.csv", "test_read_psm4.csv"])
def test_nsrdb_files(name):
    path = data(name)
    found = read_weather(path, "nsrdb")
    frame = pd.read_csv(path, skiprows=2)
    assert float(found["ghi"].sum()) == pytest.approx(float(frame["GHI"].sum()), rel=1e-9)
    assert found.sizes["time"] == len(frame)
    assert quality(found)["clock"] in ("agrees", "cannot tell")


def plain_table(folder, suffix="csv", **changes):
    """Write two days of anybody's table and return its path."""
    year = shipped_year().isel(time=slice(3600, 3648))
    table = pd.DataFrame(
        {
            "When": pd.DatetimeIndex(year.indexes["time"]).strftime("%Y-%m-%d %H:%M"),
            "G": year["ghi"].to_numpy(),
            "Ta": year["temp_air"].to_numpy(),
        }
    ).assign(**changes)
    path = folder / f"mine.{suffix}"
    if suffix == "parquet":
        table.to_parquet(path)
    else:
        table.to_csv(path, index=False, sep=";", encoding="utf-8-sig")
    return path


SAID = Source(
    columns={"time": "When", "ghi": "G", "temp_air": "Ta"},
    zone="UTC",
    sampling="mean",
    label="start",
    latitude=45.0,
    longitude=8.0,
    altitude_m=200.0,
)


@pytest.mark.parametrize("suffix", ["csv", "parquet"])
def test_anybodys_table(tmp_path, suffix):
    found = read_weather(plain_table(tmp_path, suffix), suffix, SAID)
    expected = shipped_year()["ghi"].isel(time=slice(3600, 3648)).to_numpy()
    assert found["ghi"].to_numpy() == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        (SAID._replace(columns=None), "no weather.columns"),
        (SAID._replace(columns={**SAID.columns, "ghi": "g"}), "Did you mean 'G'?"),
        (SAID._replace(zone=None), "Write zone: UTC+01:00"),
        (SAID._replace(label=None), "means without a label"),
        (SAID._replace(sampling=None), "no weather.sampling"),
        (SAID._replace(latitude=None), "no place"),
    ],
)
def test_what_a_table_doesnt_say_is_asked_for(tmp_path, said, sentence):
    with pytest.raises(InputError, match="expected") as refused:
        read_weather(plain_table(tmp_path), "csv", said)
    assert sentence in str(refused.value)


def test_an_unknown_file_or_format_is_refused_with_the_nearest(tmp_path):
    with pytest.raises(InputError, match="which is not there") as refused:
        read_weather("typical-year-45n-8", "canonical")
    assert "Did you mean 'typical-year-45n-8e'?" in str(refused.value)
    with pytest.raises(InputError, match=r"weather\.format") as refused:
        read_weather("typical-year-45n-8e", "canonicle")
    assert "Did you mean 'canonical'?" in str(refused.value)
    nonsense = tmp_path / "x.epw"
    nonsense.write_text("no weather at all")
    with pytest.raises(InputError, match="can't be read as epw"):
        read_weather(nonsense, "epw")


def test_formats_are_the_configurations_words():
    from yieldkit.config.models.weather_source import WeatherSource

    assert set(WeatherSource.model_fields["format"].annotation.__args__) == set(READERS)


def test_the_door_reads_weather():
    assert find_file("typical-year-45n-8e", "canonical").is_file()
    assert yieldkit.simulate is not None
