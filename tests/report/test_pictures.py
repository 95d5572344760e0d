"""Figures state in words the numbers that they show; each is worked out here another way."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from matplotlib.patches import Rectangle

from yieldkit.base.quantities import flags
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.circuit.api import BINDING
from yieldkit.report.figures import budget as figures_budget
from yieldkit.report.figures import curves as figures_curves
from yieldkit.report.figures import limited_hours as figures_hours
from yieldkit.report.figures import operating_points as figures_points
from yieldkit.report.figures import ranking as figures_ranking
from yieldkit.report.figures import string_diagram as diagram
from yieldkit.report.figures import voltages as figures_voltage
from yieldkit.study.comparison.curves import (
    moment_curves,
    telling_moments,
    telling_tracker,
    tracker_curves,
)
from yieldkit.study.simulation.limited_hours import (
    energy_held_back,
    flagged,
    limited_steps,
    limited_time,
)

pytestmark = pytest.mark.slow

STEPS = ["temperature", "parallel mismatch", "conversion"]


def result(hours=48, start="2019-01-31", **changes):
    """Return a made result of one tracker: a constant kilowatt unless changed."""
    time = pd.date_range(start, periods=hours, freq="h")
    series = {
        "p_delivered": 1000.0,
        "p_ac": 1000.0,
        "p_held_back": 0.0,
        "off_fraction": 0.0,
        "ac_limit": AC_LIMIT["none"],
    } | changes
    data = {name: ("time", np.broadcast_to(value, hours).copy()) for name, value in series.items()}
    for name in ("p_held_back", "off_fraction", "ac_limit"):
        data[name] = (("time", "inverter"), data[name][1][:, None])
    data["p_dc"] = (("time", "tracker"), np.full((hours, 1), 1100.0))
    data["binding_limit"] = (("time", "tracker"), np.full((hours, 1), BINDING["free"]))
    made = xr.Dataset(data, coords={"time": time, "tracker": ["A"]})
    made["ac_limit"].attrs = flags(AC_LIMIT)
    made["binding_limit"].attrs = flags(BINDING)
    made.attrs = {"utc_offset_s": 0, "interval_s": 3600, "energy_kwh": hours * 1.0}
    return made


def made_comparison(budgets=None, **results):
    """Return a stand-in with what the figures of energy read of a comparison."""
    names = list(results)
    table = pd.DataFrame(
        {"energy_kwh": [each.attrs["energy_kwh"] for each in results.values()]}, index=names
    )
    if budgets is not None:
        budgets = xr.DataArray(
            budgets, dims=("wiring", "loss_step"), coords={"wiring": names, "loss_step": STEPS}
        )
    return SimpleNamespace(
        results=tuple(results.items()),
        table=table,
        best=names[0],
        reference=lambda: names[0],
        budgets=budgets,
        difference=lambda one, other: budgets.sel(wiring=one) - budgets.sel(wiring=other),
    )


def test_months_are_those_of_local_standard_time():
    one = result(hours=48, start="2019-01-31")
    one.attrs["utc_offset_s"] = 3600
    table = figures_budget.monthly_table(made_comparison(one=one))
    assert table.loc["Jan", "one"] == pytest.approx(23.0)
    assert table.loc["Feb", "one"] == pytest.approx(25.0)


def test_monthly_picture_states_total_best_and_poorest_month():
    picture = figures_budget.monthly_picture(made_comparison(one=result(hours=24 * 60)))
    assert "one 1,440 kWh in all" in picture.alt
    # From 31 January: 24 hours in January, 28 days in February, 31 days in March.
    assert "most in Mar (744 kWh), least in Jan (24 kWh)" in picture.alt


def test_a_gap_makes_its_month_missing_and_no_zero():
    delivered = np.full(48, 1000.0)
    delivered[3] = np.nan
    table = figures_budget.monthly_table(made_comparison(one=result(p_delivered=delivered)))
    assert np.isnan(table.loc["Jan", "one"])
    assert table.loc["Feb", "one"] == pytest.approx(24.0)


def budgets():
    first, second = result(), result()
    for each in (first, second):
        each["potential"] = ("stage", [1000.0])
    return made_comparison([[60.0, 5.0, 20.0], [60.0, 105.0, 18.0]], first=first, second=second)


def test_budget_bars_are_shares_of_the_energy_at_stc_efficiency():
    picture = figures_budget.budget_picture(budgets())
    bars = [patch.get_width() for patch in picture.figure.axes[0].patches]
    assert bars == pytest.approx([6.0, 0.5, 2.0, 6.0, 10.5, 1.8])
    assert "second: parallel mismatch 10.5 %, temperature 6.0 %, conversion 1.8 %" in picture.alt


def test_difference_bars_are_the_difference_by_cause():
    picture = figures_budget.difference_picture(budgets())
    bars = [patch.get_width() for patch in picture.figure.axes[0].patches]
    assert bars == pytest.approx([100.0, -2.0])
    assert "second yields 98 kWh less (parallel mismatch +100 kWh)" in picture.alt


def test_no_difference_no_picture():
    same = budgets()
    same.results = same.results[:1]
    assert figures_budget.difference_picture(same) is None


def limited(hours=48):
    """Return ten hours above a cap by 500 W, two of derating, and four half switched off."""
    which = np.zeros(hours, dtype=np.int8)
    which[10:18], which[18:20] = AC_LIMIT["maximum power"], AC_LIMIT["derating"]
    off = np.zeros(hours)
    off[30:34] = 0.5
    return result(
        ac_limit=which,
        p_held_back=np.where(which > 0, 500.0, 0.0),
        off_fraction=off,
    )


def test_held_hours_and_energy_by_cause():
    found = {each.cause: each for each in limited_time(limited())}
    assert set(found) == {
        "AC power",
        "temperature derating",
        "switched off for network voltage",
    }
    assert (found["AC power"].hours, found["AC power"].kwh) == pytest.approx((8.0, 4.0))
    assert found["temperature derating"].kwh == pytest.approx(1.0)
    off = found["switched off for network voltage"]
    assert (off.hours, off.kwh) == pytest.approx((2.0, 2.0))
    assert limited_steps(limited()).sum() == 14
    assert energy_held_back(limited()).sum() == pytest.approx(5.0)


def test_an_inputs_limit_is_counted_too():
    one = result()
    one["binding_limit"][5:8] = BINDING["input current"]
    assert [(each.cause, each.hours) for each in limited_time(one)] == [
        ("maximum input current", 3.0)
    ]


def test_flag_words_come_from_the_variables_own_attributes():
    one = limited()
    assert flagged(one["ac_limit"], "derating").sum() == 2
    assert not flagged(one["ac_limit"], "no such word").any()


def test_every_flag_of_the_engine_is_known_to_the_report():
    one, known = result(hours=24), set()
    for variable, codes in (("ac_limit", AC_LIMIT), ("binding_limit", BINDING)):
        for word, code in codes.items():
            case = one.copy(deep=True)
            case[variable][...] = code
            case[variable].attrs = flags(codes)
            if not limited_time(case):
                known.add(word)
    assert known == {"none", "free", "off: dark", "power bound"}


def test_held_picture_counts_hours_by_month_and_hour():
    picture = figures_hours.limited_hours_picture(made_comparison(one=limited(), two=result()))
    assert "one: 14 h, 5.0 kWh above the limit, between 6 and 20 o'clock." in picture.alt
    assert "two: never." in picture.alt
    drawn = picture.figure.axes[0].images[0].get_array()
    assert drawn[0, 10] == 1.0
    assert drawn[1, 6] == 1.0
    assert drawn.sum() == 14.0


def test_held_picture_without_any_held_hour():
    picture = figures_hours.limited_hours_picture(made_comparison(one=result()))
    assert picture.alt == "Hours held back on the AC side. one: never."
    assert picture.png().startswith(b"\x89PNG")


def test_cloud_states_the_range_of_each_input(comparison):
    name = "lopsided"
    alt = figures_points.operating_points_picture(comparison, name).alt
    for tracker in ("MPPT 1", "MPPT 2", "MPPT 3"):
        own = comparison.result(name).sel(tracker=tracker)
        volts = own["v_dc"].to_numpy()[own["p_dc"].to_numpy() > 0.0]
        assert (
            f"{tracker}: {volts.min():.0f} to {volts.max():.0f} V in a window of 160 to 850 V, "
            f"up to {float(own['i_dc'].max()):.1f} A" in alt
        )


def test_cloud_draws_the_limits(comparison):
    axes = figures_points.operating_points_picture(comparison, "lopsided").figure.axes[0]
    assert len({text.get_fontsize() for text in axes.texts}) == 1
    texts = " ".join(text.get_text() for text in axes.texts)
    for limit in ("window 160 to 850 V", "maximum 1000 V", "input current 30 A", "12.5 kW"):
        assert limit in texts


def test_days_state_peak_and_energy(comparison):
    days = comparison.details().days
    name = comparison.results[0][0]
    alt = figures_points.days_picture(comparison, name, days).alt
    steps = dict(days)["clear June day"]
    power = comparison.result(name)["p_ac"].to_numpy()[steps] / 1000.0
    assert f"clear June day: AC up to {power.max():.1f} kW, {power.sum():.0f} kWh" in alt


def test_curves_state_the_sums_maximum_and_the_strings_own(comparison):
    wiring = comparison.site.wirings[1]
    step = telling_moments(comparison.prepared)["brightest"]
    own = moment_curves(comparison.prepared, wiring, "MPPT 2", {"brightest": step})
    picture = figures_curves.curves_picture(comparison, wiring.name, own)
    labels = [(each.get_xlabel(), each.get_ylabel()) for each in picture.figure.axes]
    assert labels == [("voltage, V", "current, A"), ("voltage, V", "power, kW")]
    alt = picture.alt
    curve = tracker_curves(comparison.prepared, wiring, "MPPT 2", step)
    volts = curve["voltage"].to_numpy()
    total = np.nan_to_num(curve["i_dc"].to_numpy()) * volts
    own = (np.nan_to_num(curve["i_string"].to_numpy()) * volts[:, None]).max(axis=0).sum()
    assert f"the sum's maximum is {total.max():,.0f} W at {volts[total.argmax()]:.0f} V" in alt
    assert f"own maxima add up to {own:,.0f} W" in alt
    own = comparison.result(wiring.name).sel(tracker="MPPT 2").isel(time=step)
    volts, amps = float(own["v_dc"]), float(own["i_dc"])
    assert f"works at {volts:.0f} V and {volts * amps:,.0f} W." in alt


def test_the_telling_tracker_is_the_one_where_different_things_meet(site):
    chosen = [telling_tracker(site, wiring) for wiring in site.wirings]
    assert chosen == ["MPPT 1", "MPPT 2", "MPPT 1", "MPPT 2"]


def test_each_own_wiring_has_a_line_of_its_own_look():
    made = pd.DataFrame(
        {
            "name": [f"own {number}" for number in range(9)],
            "own": True,
            "difference_percent": np.linspace(-4.0, -0.5, 9),
        }
    )
    proposal = SimpleNamespace(
        table=made,
        ranking=SimpleNamespace(
            energy_kwh=np.linspace(10_000.0, 9000.0, 500),
            order=np.arange(500),
            shares_out=False,
        ),
    )
    axes = figures_ranking.ranking_picture(proposal).figure.axes[0]
    looks = {(line.get_linestyle(), line.get_linewidth()) for line in axes.lines}
    assert len(axes.lines) == len(looks) == 9


def test_quarter_hours_stand_between_the_hours():
    quarters = result(96)
    quarters = quarters.assign_coords(time=pd.date_range("2019-06-01", periods=96, freq="15min"))
    made = SimpleNamespace(result=lambda name: quarters)
    days = [("a day", np.arange(96))]
    axes = figures_points.days_picture(made, "one", days).figure.axes[0]
    for line in axes.lines:
        assert line.get_xdata() == pytest.approx(np.arange(96) / 4.0)


def test_ladder_states_the_cold_voltage_worked_out_by_hand(comparison):
    picture = figures_voltage.voltages_picture(comparison)
    # 14 modules, 38.9 V, -0.26 %/K from 25 to -14 degC, 3 % tolerance: computed.
    assert pytest.approx(617.8, abs=0.05) == 14 * 38.9 * (1 + 0.0026 * 39) * 1.03
    assert "14 west roof (MPPT 1)" in picture.alt
    assert "cold Voc 618 V, maximum 1000 V" in picture.alt
    kinds = [text.get_text() for text in picture.figure.axes[0].get_yticklabels()]
    assert len(kinds) == len(set(kinds)) == 7
    assert kinds[0] == "14 east roof + 7 dormer"


def test_terminal_voltage_states_range_and_limit(comparison):
    name = comparison.best
    found = comparison.result(name)
    volts = found["v_ac"].to_numpy()[found["p_ac"].to_numpy() > 0.0]
    alt = figures_voltage.terminal_picture(comparison, name).alt
    # EN 50549-1: mean over ten minutes at most 110 % of nominal, 253 V: from memory.
    assert f"{volts.min():.1f} to {volts.max():.1f} V against a limit of 253 V" in alt


def modules_drawn(picture):
    """Return how many module rectangles a layout shows."""
    height = pytest.approx(diagram._MODULE_HEIGHT)
    patches = picture.figure.axes[0].patches
    return sum(isinstance(p, Rectangle) and p.get_height() == height for p in patches)


def test_layout_draws_every_wired_module(site):
    for wiring in site.wirings:
        assert modules_drawn(diagram.strings_picture(site, wiring)) == 48


def test_layout_says_what_hangs_where(site):
    alt = diagram.strings_picture(site, site.wirings[3]).alt
    assert "MPPT 1: string 1: 14 west roof; string 2: 13 west roof." in alt
    assert "MPPT 2: string 1: 14 east roof + 7 dormer." in alt
    assert "MPPT 3: no string." in alt


def test_layout_names_modules_that_are_not_wired(site):
    fewer = site.variant(
        {
            "planes.west roof.modules": 30,
            "planes.west roof.drawing": (),
            "planes.west roof.cable_exit": None,
        },
    )
    picture = diagram.strings_picture(fewer, fewer.wirings[0])
    assert picture.alt.endswith("Not wired: 3 west roof.")
    assert modules_drawn(picture) == 48


@pytest.mark.parametrize("modules", [1, 400])
def test_layout_has_room_for_short_and_long_strings(site, modules):
    wirings = site.model_dump()["wirings"][:1]
    wirings[0]["trackers"] = wirings[0]["trackers"][1:2]
    wirings[0]["trackers"][0]["strings"][0]["groups"][0]["modules"] = modules
    east = {"modules": 400, "drawing": (), "cable_exit": None}
    changes = {f"planes.east roof.{key}": value for key, value in east.items()}
    changed = site.variant(changes | {"wirings": wirings})
    picture = diagram.strings_picture(changed, changed.wirings[0])
    assert modules_drawn(picture) == modules
    low = pytest.approx(diagram._MODULE_HEIGHT)
    patches = [p for p in picture.figure.axes[0].patches if isinstance(p, Rectangle)]
    right = max(p.get_x() + p.get_width() for p in patches if p.get_height() == low)
    assert right <= diagram._MODULES_TO + 1e-9
