"""What is drawn for an annual figure: round what a site states, one-sided where it states none."""

import numpy as np
import pytest

from tests.study.sites import demo, variant, weather
from yieldkit.config.models.snow import SnowFromSnowfall
from yieldkit.study.estimate.runs import more_snow
from yieldkit.study.estimate.spread import Spread
from yieldkit.study.estimate.unknowns import frosty_months, lasting, unsure
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.soiling import soiling_share
from yieldkit.study.uncertainty.drawn_site import drawn_site

POINT = {"azimuth_deg": 100.0, "elevation_deg": 8.0}
SNOW = {"kind": "by-month", "snow_cm": (20.0, 10.0) + (0.0,) * 10, "snow_days": (4, 2) + (0,) * 10}
SNOW |= {"relative_humidity_percent": (80.0,) * 12}


def doubts(changes=None, planes=None):
    """Return a site on its weather, and what is drawn for it."""
    prepared = prepare(variant(changes, demo().model_dump()["wirings"], planes), weather())
    return prepared, unsure(prepared, lasting(prepared.site, Spread("stated", 4.0, "a study", 1)))


def drawn(found, name, draws=256):
    """Return the draws of a quantity."""
    return np.array([found.row(own)[name] for own in found.points(draws, 1)])


def planes_with(**changes):
    """Return the demonstration's planes, the first one changed."""
    first, *others = demo().model_dump(exclude={"folder"})["planes"]
    return [{**first, **changes}, *others]


def planes_high():
    """Return the demonstration's planes with the height that snow by month asks for."""
    nowhere = {"positions": (), "drawing": (), "cable_exit": None, "slant_height_m": 5.0}
    return [{**plane, **nowhere} for plane in demo().model_dump(exclude={"folder"})["planes"]]


def test_what_is_not_stated_is_drawn_to_the_side_of_loss():
    _, found = doubts()
    assert drawn(found, "soiling of west roof").min() >= 0.0
    assert np.median(drawn(found, "soiling of west roof")) == pytest.approx(1.0, abs=0.02)
    assert drawn(found, "horizon of west roof").min() >= 0.0
    assert np.median(drawn(found, "horizon of west roof")) == pytest.approx(1.5, abs=0.03)


def test_what_is_stated_is_the_middle_of_the_draws():
    _, found = doubts(planes=planes_with(soiling_loss_percent=3.0, horizon=[POINT]))
    assert np.median(drawn(found, "soiling of west roof")) == pytest.approx(0.0, abs=0.02)
    assert drawn(found, "soiling of west roof").min() == pytest.approx(-1.0, abs=0.02)
    assert np.median(drawn(found, "horizon of west roof")) == pytest.approx(0.0, abs=0.03)
    # The others state none.
    assert np.median(drawn(found, "soiling of east roof")) == pytest.approx(1.0, abs=0.02)


def test_little_dirt_is_never_drawn_below_none():
    prepared, found = doubts(planes=planes_with(soiling_loss_percent=0.4))
    loss = [
        drawn_site(prepared.site, found.row(own)).planes[0].soiling_loss_percent
        for own in found.points(64, 1)
    ]
    assert min(loss) >= 0.0
    assert np.mean(loss) == pytest.approx(0.4, abs=0.02)


def test_dirt_by_month_is_the_middle_of_the_draws_too():
    by_month = (4.0, 4.0, 2.0, 1.0, 1.0, 1.0, 3.0, 3.0, 3.0, 1.0, 1.0, 4.0)
    prepared, found = doubts(planes=planes_with(soiling_by_month_percent=by_month))
    base = soiling_share(prepared.site.planes[0], weather())
    shares = [
        soiling_share(drawn_site(prepared.site, found.row(own)).planes[0], weather()).mean()
        for own in found.points(64, 1)
    ]
    assert min(shares) < base.mean() - 0.008
    assert max(shares) > base.mean() + 0.008
    assert np.mean(shares) == pytest.approx(base.mean(), abs=2e-4)


def test_dirt_that_rain_always_washes_off_is_stated_all_the_same():
    wet = weather().assign(rain=weather()["ghi"] * 0.0 + 10.0)
    planes = planes_with(soiling_from_rain={"model": "kimber"})
    prepared = prepare(variant(None, demo().model_dump()["wirings"], planes), wet)
    found = unsure(prepared, ())
    assert (drawn(found, "soiling of west roof") == 0.0).all()
    assert np.median(drawn(found, "soiling of east roof")) == pytest.approx(1.0, abs=0.02)


def test_snow_is_drawn_round_what_falls():
    prepared, found = doubts({"site.snow": SNOW}, planes_high())
    factors = np.exp(drawn(found, "snow") / 100.0)
    assert np.median(factors) == pytest.approx(1.0, abs=0.01)
    more, same = (more_snow(prepared.site.site.snow, factor) for factor in (1.5, 1.0))
    assert more.snow_cm[0] == 30.0
    assert more.snow_days[:2] == (6.0, 3.0)
    assert same == prepared.site.site.snow
    sliding = SnowFromSnowfall(kind="from-snowfall")
    assert more_snow(sliding, 2.0).slides_per_h == pytest.approx(0.197 / 2.0)


def test_snow_that_is_not_stated_takes_from_months_of_frost_alone():
    prepared, found = doubts()
    assert not frosty_months(prepared).any()
    assert "snow that is not stated" not in found.names
    cold = weather().assign(temp_air=weather()["temp_air"] - 12.0)
    prepared = prepare(demo(), cold)
    frosty = frosty_months(prepared)
    assert frosty.tolist() == [1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0]
    found = unsure(prepared, ())
    lost = drawn(found, "snow that is not stated")
    assert lost.min() >= 0.0
    assert lost.max() <= 20.0


def test_planes_share_what_has_one_cause():
    _, found = doubts()
    for name in ("soiling", "horizon", "module tolerance", "heat loss of the cells"):
        assert (drawn(found, f"{name} of west roof") == drawn(found, f"{name} of dormer")).all()
        assert len(found.of_cause(name)) == 1
    assert (drawn(found, "tilt of west roof") != drawn(found, "tilt of dormer")).any()
    assert len(found.of_cause("tilt")) == 3


def test_how_much_years_differ_is_told_with_its_source():
    prepared, found = doubts()
    year = found.columns[found.names.index("weather year")].unknown
    assert (year.range(), year.source) == ("4 % of its light", "a study")
    ageing = found.columns[found.names.index("yearly loss of module power")].unknown
    assert (ageing.range(), ageing.source) == (
        "0.25 points",
        "between plants; common practice, no source",
    )
    several = lasting(prepared.site, Spread("measured years", 6.0, "the 9 years given", 9))
    assert several[1].unknown.range() == "2 %"
    (one, *_) = lasting(prepared.site, Spread("blocks of days", 0.0, "blocks of five days", 1))
    assert (one.unknown.range(), one.unknown.source) == ("one of several", "blocks of five days")


def test_every_draw_has_its_spread_and_its_source():
    _, found = doubts()
    assert all(column.unknown.source and column.unknown.unit for column in found.columns)
    assert len(set(found.names)) == len(found.names)
    assert not {"module sorting", "bypass drop"} & set(found.causes)
