"""Files of minutes to draw from: read like weather, refused with what would do, and remembered."""

import pytest

import yieldkit
from tests.config.small import refusal, with_changes
from tests.study.sites import variant, weather
from tests.weather.minutes import as_file, cloudy
from yieldkit.base.errors import InputError
from yieldkit.study.simulation.minute_source import minutes_content, site_minutes


def asking(file, **more):
    """Return a site that draws from a file."""
    minutes = {"file": str(file), "format": "canonical", **more}
    return variant({"weather.within_hour": {"minutes": minutes}})


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Return a folder with minutes, and with what is none."""
    folder = tmp_path_factory.mktemp("minutes")
    as_file(cloudy(12), folder / "minutes.csv")
    as_file(cloudy(5), folder / "short.csv")
    as_file(cloudy(12).resample("5min").mean(), folder / "five.csv")
    as_file(cloudy(12)[["ghi", "temp_air", "wind_speed"]], folder / "global.csv")
    text = (folder / "minutes.csv").read_text(encoding="utf-8")
    snapshots = text.replace('"sampling": "mean"', '"sampling": "snapshot"', 1)
    (folder / "snapshots.csv").write_text(snapshots, encoding="utf-8")
    return folder


def test_minutes_of_ones_own_are_read_with_their_place(place):
    library = site_minutes(asking(place / "minutes.csv"))
    assert library.title == "invented clouds"
    # The file's own place, not the site's: else its clear hours would not be alike.
    assert library.height.max() == pytest.approx(0.90, abs=0.03)


@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("five.csv", r"means every 300 s as minutes to draw from; expected means over one minute"),
        ("snapshots.csv", r"snapshots every 60 s as minutes to draw from"),
        ("global.csv", r"minutes with light by erbs-driesse; expected measured dni and dhi"),
        ("short.csv", r"71 hours of minutes with the sun up; expected at least 150"),
    ],
)
def test_what_is_no_library_is_refused(place, file, words):
    with pytest.raises(InputError, match=words):
        site_minutes(asking(place / file))


def test_a_file_that_went_away_is_told(place):
    passing = place / "passing.csv"
    passing.write_bytes((place / "minutes.csv").read_bytes())
    site = asking(passing)
    passing.unlink()
    with pytest.raises(InputError, match=r"within_hour\.minutes\.file: got .* which is not there"):
        site_minutes(site)


def test_other_bytes_are_other_minutes(place):
    other = place / "other.csv"
    as_file(cloudy(12, seed=8), other)
    asked = [minutes_content(asking(each)) for each in (place / "minutes.csv", other)]
    assert asked[0] != asked[1]
    shipped = variant({"weather.within_hour": {}})
    assert minutes_content(shipped) == "payerne-june-2016"


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (
            {"minutes": {"file": "none.csv", "format": "canonical"}},
            "weather.within_hour.minutes.file: got 'none.csv', which is not there",
        ),
        (
            {"minutes": {"file": "none.csv", "format": "csv"}},
            "a table of minutes without columns and label; expected columns: {time: ..., ghi",
        ),
        (
            {
                "minutes": {
                    "file": "none.csv",
                    "format": "csv",
                    "label": "start",
                    "columns": {"time": "t", "ghi": "g", "poa_global": {"west roof": "G"}},
                }
            },
            "poa_global of planes among minutes to draw from; expected columns of the sky",
        ),
        ({"smoothed_over_min": 1}, "weather.within_hour.smoothed_over_min: got 1"),
        ({"seeds": 1}, "unknown key 'seeds'"),
    ],
)
def test_what_a_site_file_says_wrongly_is_refused(asked, words):
    block = {"file": "greensboro-tmy3", "format": "tmy3", "within_hour": asked}
    assert words in str(refusal(with_changes(weather=block)))


def test_smoothing_beside_means_is_refused_in_the_file():
    block = {
        "file": "greensboro-tmy3",
        "format": "tmy3",
        "sampling": "mean",
        "label": "end",
        "within_hour": {"smoothed_over_min": 5},
    }
    said = str(refusal(with_changes(weather=block)))
    assert "smoothed_over_min 5 with sampling mean; expected a smoothing of snapshots only" in said


def test_a_result_tells_whose_minutes_were_drawn():
    days = weather().isel(time=slice(24 * 160, 24 * 162))
    means = days.assign_attrs(sampling="mean", label="start", sun_offset_s=0.0)
    comparison = yieldkit.compare(variant({"weather.within_hour": {}}), weather=means)
    said = " ".join(comparison.assumptions)
    assert "minutes drawn from Payerne (Switzerland), June 2016" in said
    assert "each step's direct and diffuse mean stays. Seed 1, 8 draws." in said
    assert "Measured minutes: Baseline Surface Radiation Network (BSRN)" in said
