"""Minutes drawn for hours: both means stay, the sun's own is never exceeded, like skies are found.

The shares that a place's own minutes must cut off the error stand in `tests/study`.
"""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pvlib import iotools

import yieldkit
from tests.archives import archive
from tests.weather.minutes import PLACE, cloudy
from yieldkit.physics.irradiance.cloudless import beam_below, turbidity_of
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.weather.shipped_minutes import shipped_minutes
from yieldkit.weather.within_hour import (
    Spot,
    Steps,
    beam_index,
    clearest_turbidity,
    draw_minutes,
    minute_library,
)

SPOT = Spot(PLACE.latitude, PLACE.longitude, PLACE.altitude_m)
SHIPPED = Path(yieldkit.__file__).parent / "weather/minutes"


def begins_of(frame):
    """Return the starts of rows [ns]."""
    return frame.index.as_unit("ns").asi8


def lit_hours(frame):
    """Return the hours of minutes that have light, as steps."""
    means = frame.resample("1h").mean()
    means = means[means["ghi"] > 0.0]
    return Steps(begins_of(means), means["dni"].to_numpy(), means["dhi"].to_numpy())


def sun_at(instants):
    """Return the sun at instants of any shape, in one row."""
    index = pd.DatetimeIndex(np.ascontiguousarray(instants).ravel().view("datetime64[ns]"))
    return sun_position(index.tz_localize("UTC"), *SPOT)


@pytest.fixture(scope="module")
def drawn():
    steps = lit_hours(cloudy())
    return steps, draw_minutes(steps, 60, 0, SPOT, shipped_minutes(), 1)


def test_both_hourly_means_stay(drawn):
    steps, minutes = drawn
    found = minutes.found
    assert found.mean() > 0.97
    assert np.abs(minutes.dni.mean(axis=1) - steps.dni)[found].max() < 1e-9
    assert np.abs(minutes.dhi.mean(axis=1) - steps.dhi)[found].max() < 1e-9


def test_no_beam_above_the_sun_or_below_the_horizon(drawn):
    _, minutes = drawn
    sun = sun_at(minutes.instants)
    dni = minutes.dni.ravel()
    assert (dni <= sun.dni_extra).all()
    assert (dni >= 0.0).all()
    assert (dni[sun.zenith > 90.0] == 0.0).all()
    assert (minutes.dhi >= 0.0).all()
    assert dni.max() > 800.0


def test_a_mean_that_no_sun_gives_is_left_alone():
    steps = lit_hours(cloudy())
    too_bright = steps._replace(dni=np.full_like(steps.dni, 1390.0))
    minutes = draw_minutes(too_bright, 60, 0, SPOT, shipped_minutes(), 1)
    assert not minutes.found.any()


def test_a_seed_gives_the_same_again_and_another_another(drawn):
    steps, minutes = drawn
    again, other = (
        draw_minutes(steps, 60, 0, SPOT, shipped_minutes(), seed).dni for seed in (1, 2)
    )
    np.testing.assert_array_equal(again, minutes.dni)
    assert (other != minutes.dni).any(axis=1).mean() > 0.3


def test_like_skies_are_found(drawn):
    """Clouds that come and go leave minutes as far apart as the hours they are drawn for."""
    steps, minutes = drawn
    measured = cloudy()["dni"].to_numpy().reshape(-1, 60)
    measured = measured[cloudy().resample("1h")["ghi"].mean().to_numpy() > 0.0]
    high = np.cos(np.radians(sun_at(minutes.instants[:, 30]).zenith)) > 0.3
    broken = high & (measured.min(axis=1) == 0.0) & (measured.max(axis=1) > 600.0)
    assert broken.sum() > 40
    spread = minutes.dni.std(axis=1)
    assert np.median(spread[broken]) == pytest.approx(
        np.median(measured.std(axis=1)[broken]), rel=0.4
    )
    overcast = high & (steps.dni < 1.0)
    assert overcast.sum() > 20
    assert spread[overcast].max() < 60.0


def test_hours_without_a_cloud_run_evenly():
    frame = cloudy(seed=3)
    sun = sun_at(begins_of(frame) + 30_000_000_000)
    height = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    beam = beam_below(sun, np.full(height.size, 3.0), SPOT.altitude_m)
    clear = frame.assign(dni=beam, dhi=80.0 * (height > 0.0))
    clear["ghi"] = clear["dni"] * height + clear["dhi"]
    minutes = draw_minutes(lit_hours(clear), 60, 0, SPOT, shipped_minutes(), 1)
    lit = clear["ghi"].to_numpy().reshape(-1, 60).mean(axis=1) > 0.0
    measured = clear["dni"].to_numpy().reshape(-1, 60)[lit]
    high = height.reshape(-1, 60)[lit].min(axis=1) > 0.25
    assert high.sum() > 140
    assert np.abs(minutes.dni - measured)[high].max() < 3.0


def test_lone_steps_have_a_lead_that_does_not_count():
    steps = lit_hours(cloudy())
    few = Steps(steps.begins + 1_500_000_000_000, steps.dni, steps.dhi)
    minutes = draw_minutes(few, 5, 20, SPOT, shipped_minutes(), 1)
    assert minutes.dni.shape[1] == 25
    counted = minutes.dni[:, 20:]
    assert np.abs(counted.mean(axis=1) - few.dni)[minutes.found].max() < 1e-9
    assert minutes.instants[0, 20] == few.begins[0] + 30_000_000_000


def test_turbidity_is_found_again_in_its_own_beam():
    instants = begins_of(cloudy())[::60]
    sun = sun_at(instants)
    up = np.flatnonzero(sun.zenith < 85.0)
    own = sun.at(up)
    beam = beam_below(own, np.full(up.size, 3.7), SPOT.altitude_m)
    np.testing.assert_allclose(turbidity_of(beam, own, SPOT.altitude_m), 3.7, rtol=1e-9)
    steps = lit_hours(cloudy())
    clearest = clearest_turbidity(steps, 60, SPOT)
    # The clouds leave hours without any, at a turbidity of 3.
    np.testing.assert_allclose(clearest, 3.0, atol=0.15)


def test_beam_is_told_by_what_the_clearest_hours_give():
    steps = Steps(np.zeros(2, dtype=np.int64), np.array([400.0, 0.0]), np.zeros(2))
    cloudless = np.array([[700.0, 900.0], [0.0, 0.5]])
    np.testing.assert_allclose(beam_index(steps, cloudless), [0.5, 0.0])


def test_a_library_has_neither_nights_nor_gaps():
    frame = cloudy().copy()
    frame.iloc[700:760, frame.columns.get_indexer(["dni"])] = np.nan
    library = minute_library(
        begins_of(frame), *(frame[name].to_numpy() for name in ("dni", "dhi")), SPOT, "invented", ""
    )
    assert np.isnan(library.beam[700:760]).all()
    night = library.height < 0.0
    assert np.isnan(library.beam[night]).all()
    assert np.nanquantile(library.beam, 0.9) == pytest.approx(1.0, abs=0.05)


def test_the_shipped_minutes_are_the_measured_ones_without_their_units():
    """The file in pvlib's source archive, divided by what the sun gives outside the air."""
    measured, _ = iotools.read_bsrn(archive("pvlib==0.16.1") / "tests/data/bsrn-pay0616.dat.gz")
    lines = (SHIPPED / "payerne-june-2016.csv").read_text(encoding="utf-8").splitlines()
    facts = json.loads(lines[0].split(": ", 1)[1])
    hour, beam, diffuse = next(line for line in lines if line.startswith("2016-06-22T11")).split(
        ","
    )
    own = measured.loc[pd.Timestamp(hour) : pd.Timestamp(hour) + pd.Timedelta(minutes=59)]
    middle = own.index + pd.Timedelta(seconds=30)
    sun = sun_position(middle, facts["latitude"], facts["longitude"], facts["altitude_m"])
    height = np.cos(np.radians(sun.zenith))
    for words, column, level in (
        (beam, "dni", sun.dni_extra),
        (diffuse, "dhi", sun.dni_extra * height),
    ):
        found = np.array(words.split(" "), dtype=float) / 1000.0
        assert np.abs(found - own[column].clip(lower=0.0) / level).max() < 5.1e-4
    library = shipped_minutes()
    assert np.isfinite(library.beam).sum() / 60.0 > 400.0
    assert "BSRN" in library.attribution


def test_the_terms_of_the_shipped_minutes_stand_beside_them():
    text = (SHIPPED / "README.md").read_text(encoding="utf-8")
    for part in ("must not be passed to a third party", "wide release", "selling", "bsrn.awi.de"):
        assert part in text
