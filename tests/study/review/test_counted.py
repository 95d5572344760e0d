"""What is counted, not fitted: idle inputs, outages, clocks, plateaus; and what is refused."""

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest

import yieldkit
from tests.study.review.plants import plants
from tests.study.review.year_logs import Drawn, log_of
from yieldkit.base.errors import InputError
from yieldkit.study.logs.plant_log import STANDING, ClockOffset
from yieldkit.study.review.result import CLOCK, HELD_BACK, NOTHING, OUTAGE
from yieldkit.study.review.review import review


@cache
def right(every=30):
    site, wiring = plants()["demo"]
    return log_of(site, wiring, every=every)


def reviewed(log, weather=None):
    site, wiring = plants()["demo"]
    return review(site, wiring, log, weather)


def changed(log, **series):
    return replace(log, data=log.data.assign(series))


def in_month(log, month):
    return np.isin(pd.DatetimeIndex(log.data["time"].to_numpy()).month, month)


def test_an_input_gives_nothing_in_may():
    log = right()
    idle = in_month(log, 5)[:, None] & (log.data["tracker"].to_numpy() == "MPPT 2")
    zero = {name: log.data[name].where(~idle, 0.0) for name in ("i_dc", "p_dc")}
    (sign,) = reviewed(changed(log, **zero)).signs
    assert (sign.kind, sign.subject, sign.months) == (NOTHING, "MPPT 2", ("2025-05",))
    assert sign.size.value > 10.0
    assert "nothing in" in sign.words
    assert "licensed" in sign.look


def test_an_inverter_stands_still_in_june():
    log = right()
    still = np.repeat(in_month(log, 6)[:, None], 3, axis=1)
    dark = log.data["p_dc"].to_numpy() < 500.0
    data = log.data.assign({n: log.data[n] * ~still for n in ("i_dc", "p_dc")})
    log = replace(log, data=data).leaving_out({STANDING: still & ~dark})
    (sign,) = reviewed(log).signs
    assert (sign.kind, sign.months) == (OUTAGE, ("2025-06",))
    assert sign.lost_kwh > 20.0


def test_a_clock_that_is_off_in_summer_alone():
    log = right()
    days = pd.DatetimeIndex(log.data["time"].to_numpy()).normalize().unique()
    clock = tuple(
        ClockOffset(f"{day:%Y-%m-%d}", own, own - 2.0, own + 2.0)
        for day in days
        for own in [60.0 if 4 <= day.month <= 9 else 0.5]
    )
    (sign,) = reviewed(replace(log, clock=clock)).signs
    assert (sign.kind, sign.size.value) == (CLOCK, 60.0)
    assert sign.months[0] == "2025-04"
    assert len(sign.months) == 6
    assert "60 min" in sign.words
    right_clock = tuple(each._replace(minutes=1.0, low=0.5, high=1.5) for each in clock)
    assert not reviewed(replace(log, clock=right_clock)).signs
    # A few clear days of winter that disagree by themselves prove nothing.
    minutes = (-12.0, -9.0, 3.0, 4.0, -5.0, -6.0)
    unsure = tuple(
        each._replace(minutes=own, low=own - 9.0, high=own + 9.0)
        for each, own in zip(clock, minutes, strict=False)
    )
    assert not reviewed(replace(log, clock=unsure)).signs


def test_a_plateau_below_the_input_s_limit():
    site, wiring = plants()["demo"]
    found = reviewed(log_of(site, wiring, Drawn(plateau_w={0: 5000.0})))
    (sign,) = found.signs
    assert (sign.kind, sign.subject) == (HELD_BACK, "MPPT 1")
    assert sign.size.value == pytest.approx(5000.0, rel=0.01)
    flat = {each.subject: each for each in found.plateaus}
    assert flat["MPPT 1"].power_w == pytest.approx(5000.0, rel=0.01)
    assert flat["MPPT 1"].limit_w == 12_500.0
    assert np.isnan(flat["MPPT 2"].power_w)


def test_a_plateau_at_the_stated_limit_is_no_sign():
    site, wiring = plants()["demo"]
    small = site.variant({"inverter.mppts.0.max_power_w": 5000.0})
    log = log_of(site, wiring, Drawn(plateau_w={0: 5000.0}), every=15)
    found = review(small, small.wirings[0], log)
    assert not found.signs
    assert found.plateaus[0].words.endswith("the input's largest power, 5,000 W.")


def test_more_than_the_site_allows():
    site, _ = plants()["demo"]
    limited = site.variant({"grid.export_limit_w": 6000.0})
    (sign,) = review(limited, limited.wirings[0], right()).signs
    assert (sign.kind, sign.unit) == (HELD_BACK, "h")
    assert "gives more than the limits that the site states" in sign.words


def test_alternating_power_alone():
    log = right()
    found = reviewed(replace(log, data=log.data.drop_vars(["v_dc", "i_dc", "p_dc"])))
    assert not found.signs
    assert np.isnan(found.data["dc_ratio"]).all()
    ratio = found.data["ac_measured"].sum() / found.data["ac_expected"].sum()
    whole = reviewed(log).data
    assert float(ratio) == pytest.approx(
        float(whole["ac_measured"].sum() / whole["ac_expected"].sum()), rel=1e-9
    )
    assert found.remarks[-1].startswith("No DC power, volts or amperes were written")
    assert [each.subject for each in found.losses] == ["all inputs"]
    assert float(found.data["hours"].sel(reason="counted").sum()) > 0.0


def test_weather_of_longer_steps():
    log = right(every=9)
    hourly = log.weather.isel(time=slice(None, None, 6)).assign_attrs(interval_s=3600.0)
    means = {
        name: ("time", log.weather[name].to_numpy().reshape(-1, 6).mean(axis=1), own.attrs)
        for name, own in log.weather.data_vars.items()
    }
    hourly = hourly.assign(means)
    found = reviewed(replace(log, weather=None), hourly)
    assert not found.signs
    assert found.data.attrs["interval_s"] == 3600.0
    assert "The weather has steps of 60 min: 6 of the log's make one" in found.remarks[-1]
    ratio = found.data["dc_measured"].sum() / found.data["dc_expected"].sum()
    assert float(ratio) == pytest.approx(1.0, abs=0.05)
    every = float(log.data["p_dc"].sum()) / 6000.0
    assert 0.9 < float(found.data["dc_measured"].sum()) / every < 1.0


def test_no_light_and_a_typical_year():
    with pytest.raises(InputError, match=r"no light, and a site whose weather is a typical year"):
        reviewed(replace(right(), weather=None))


def test_weather_of_another_year():
    log = right()
    later = log.weather["time"] + np.timedelta64(3650, "D")
    with pytest.raises(InputError, match=r"weather from 2034-12-.* expected weather of the log's"):
        reviewed(log, log.weather.assign_coords(time=later))


def test_inputs_of_another_wiring():
    site, _ = plants()["two inverters"]
    with pytest.raises(InputError, match=r"inputs MPPT 1, .* expected the inputs of wiring 'one"):
        review(site, None, right())


def test_too_little_light():
    log = right()
    dim = {name: 0.01 * log.weather[name] for name in ("ghi", "dni", "dhi")}
    dim |= {name: 0.01 * log.weather[name] for name in log.weather if "poa" in str(name)}
    with pytest.raises(InputError, match=r"0 steps in good light that count; expected some days"):
        reviewed(replace(log, weather=log.weather.assign(dim)))


def test_what_is_no_site():
    with pytest.raises(InputError, match=r"site: got the text 'site.yaml'; expected a Site"):
        yieldkit.review("site.yaml", None, right())
