"""Several inverters behind one meter through a whole year: accounts, sharing, and one or two."""

from functools import cache

import numpy as np
import pandas as pd
import pytest

from tests.study.several import LEAD, NAMES, twice
from tests.study.sites import demo, demo_mapping, run, variant, weather
from yieldkit.base.errors import InputError
from yieldkit.config.reading.changes import changed
from yieldkit.config.site.files import site_from_mapping
from yieldkit.design.roof.layout import laid_wiring, string_layout
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.study.comparison.compare import compare
from yieldkit.study.results.result import hourly_table
from yieldkit.study.simulation.load import load_power
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.uncertainty.draws import draw_energies

pytestmark = pytest.mark.slow

DAY = [400.0] * 6 + [2500.0] * 4 + [900.0] * 6 + [4000.0] * 5 + [600.0] * 3
Q_OF_U = {"kind": "q-of-u", "points": [[0.92, 0.44], [0.98, 0.0], [1.02, 0.0], [1.08, -0.44]]}
TOGETHER = {
    "lead": LEAD,
    "load": {"kind": "day", "hours_w": DAY},
    "load_w": 0.0,
    "export_limit_w": 15_000.0,
}


@cache
def both():
    """Return two inverters with load, export limit and reactive power, and the year of them."""
    site = twice(TOGETHER, **{name: {"reactive": Q_OF_U} for name in NAMES})
    return site, run(site)


def watts(result, *names):
    """Return variables of a result as arrays."""
    return [result[name].to_numpy() for name in names]


def test_every_step_adds_up_at_the_meter():
    _, result = both()
    p_ac, heat, load, out, drawn, self_use = watts(
        result, "p_ac", "p_lead_loss", "p_load", "p_export", "p_import", "p_self_use"
    )
    assert (result["off_fraction"].to_numpy() == 0.0).all()
    assert np.abs(p_ac - (out - drawn) - load - heat).max() < 1e-5
    # Each account is solved for itself: they close to a thousandth of a watt-hour a step.
    feeding = p_ac > 0.0
    assert np.abs(p_ac - heat - self_use - out)[feeding].max() < 1e-3
    night = np.maximum(-(p_ac - heat), 0.0)
    assert np.abs(load + night - self_use - drawn).max() < 1e-3
    assert night.max() > 5.0, "both inverters draw at night"
    assert (self_use <= load + 1e-9).all()
    assert out.max() <= 15_000.0 + 1e-4
    held = (result["ac_limit"].to_numpy() == AC_LIMIT["export"]).any(axis=1)
    assert held.sum() > 300
    assert out[held].min() > 15_000.0 - 1e-4


def test_the_budget_closes_and_names_what_the_meter_takes():
    _, result = both()
    steps = dict(zip(result["loss_step"].to_numpy(), result["loss_budget"].to_numpy(), strict=True))
    assert result.attrs["budget_closure"] < 1e-9
    for name in ("reactive power", "export limit", "AC lead", "common lead"):
        assert steps[name] > 1.0, name
    free = run(
        twice(TOGETHER | {"export_limit_w": None}, **{name: {"reactive": Q_OF_U} for name in NAMES})
    )
    # Held back is the solution without the limit less that with it, before aux and leads.
    before = (free["p_ac"] - result["p_ac"]).to_numpy().sum() / 1000.0
    assert steps["export limit"] == pytest.approx(before, rel=1e-9)
    attrs = result.attrs
    assert attrs["load_kwh"] == pytest.approx(365 * sum(DAY) / 1000.0)
    assert attrs["export_kwh"] - attrs["import_kwh"] == pytest.approx(
        attrs["energy_kwh"] - attrs["load_kwh"], abs=1e-6
    )


def test_equal_inverters_on_equal_planes_do_the_same():
    _, result = both()
    for name in ("v_ac", "q_ac", "off_fraction", "temp_inlet", "ac_limit", "p_held_back"):
        one, other = result[name].to_numpy().T
        assert np.abs(one.astype(float) - other).max() < 1e-6, name
    assert list(result["inverter"].to_numpy()) == list(NAMES)
    names = [f"{inverter} / MPPT {number}" for inverter in NAMES for number in (1, 2, 3)]
    assert list(result["tracker"].to_numpy()) == names
    assert list(result["tracker_inverter"].to_numpy()) == [0, 0, 0, 1, 1, 1]
    assert str(result["string"].to_numpy()[-1]).startswith("south / MPPT 3 / 1: ")
    half = result["tracker_energy"].to_numpy().reshape(2, 3)
    assert half[0] == pytest.approx(half[1], rel=1e-9)
    volts, meter = watts(result, "v_ac", "v_connection")
    bright = result["p_ac"].to_numpy() > 5000.0
    assert (volts[bright].min(axis=1) > meter[bright]).all()


def test_a_table_names_the_inverter_where_there_are_several():
    several = set(hourly_table(both()[1]).columns)
    assert {"v_ac north [V]", "v_ac south [V]", "q_ac south [var]", "p_export [W]"} <= several
    assert {"p_dc south / MPPT 3 [W]", "ac_limit north"} <= several
    one = set(hourly_table(run(demo())).columns)
    assert {"v_ac [V]", "ac_limit", "temp_inlet [degC]", "p_dc MPPT 3 [W]"} <= one


def test_in_order_the_first_listed_keeps_its_power():
    shared = twice(TOGETHER | {"export_sharing": "in-order"})
    result = run(shared)
    north, south = result["p_held_back"].to_numpy().T
    assert north.sum() < 0.02 * south.sum()
    proportional = run(twice(TOGETHER))
    one, other = proportional["p_held_back"].to_numpy().T
    assert one.sum() == pytest.approx(other.sum(), rel=1e-6)
    assert (north + south).sum() == pytest.approx((one + other).sum(), rel=2e-3)


def test_the_demonstration_gives_what_it_gave_before_there_were_several():
    # By the version before, where neither an export limit nor amperes bind; computed. Another
    # processor's last bits move it by 1.1e-10, in that version as well.
    assert run(demo()).attrs["energy_kwh"] == pytest.approx(24761.10516163523, rel=1e-9)


def as_version_2(**changes):
    """Return the demonstration written with a list of one inverter."""
    content = demo_mapping()
    keys = ("inverter", "inverter_place")
    kind, place = (content[key] for key in keys)
    lead = content["grid"]["lead"]
    installed = {"name": "barn", "type": kind["name"], "place": place, "lead": lead}
    rest = {key: value for key, value in content.items() if key not in keys}
    rest |= {"schema_version": 2, "inverter_types": [kind], "inverters": [installed]}
    return site_from_mapping(changed(rest, {"grid.lead": None, **changes}))


def test_one_inverters_lead_may_be_its_own_or_the_common_one():
    old, new = run(demo()), run(as_version_2())
    assert new.attrs["energy_kwh"] == pytest.approx(old.attrs["energy_kwh"], rel=1e-10)
    assert new["loss_budget"].to_numpy() == pytest.approx(old["loss_budget"].to_numpy(), abs=1e-6)
    assert list(new["tracker"].to_numpy()) == list(old["tracker"].to_numpy())


def test_uncoupled_inverters_are_two_sites_added():
    stiff = {"network_resistance_ohm": 0.0, "network_reactance_ohm": 0.0}
    site = twice(stiff)
    result = run(site)
    alone = run(variant({f"grid.{key}": value for key, value in stiff.items()}))
    assert result.attrs["energy_kwh"] == pytest.approx(2.0 * alone.attrs["energy_kwh"], rel=1e-9)
    for name in ("p_ac", "p_delivered", "p_lead_loss"):
        one, two = alone[name].to_numpy(), result[name].to_numpy()
        assert np.abs(two - 2.0 * one).max() < 1e-6, name
    assert result["loss_budget"].sel(loss_step="common lead") == 0.0


def test_the_network_they_share_lifts_their_voltages_further():
    alone = run(demo())["v_ac"].to_numpy()[:, 0]
    together = run(twice())["v_ac"].to_numpy()[:, 0]
    noon = alone > alone.min() + 1.0
    assert noon.sum() > 1000
    assert (together[noon] > alone[noon]).all()


def test_an_inverter_without_strings_draws_its_consumption_day_and_night():
    trackers = [
        {**tracker, "inverter": "north"} for tracker in demo_mapping()["wirings"][0]["trackers"]
    ]
    content = twice().model_dump(exclude={"folder"})
    content["planes"] = content["planes"][:3]
    content["wirings"] = [{"name": "north only", "trackers": trackers}]
    result = run(site_from_mapping(content))
    assert list(result["tracker_inverter"].to_numpy()) == [0, 0, 0]
    bright = result["p_ac"].to_numpy() > 0.0
    alone = run(demo())["p_ac"].to_numpy()
    night = demo().inverter.night_power_w
    assert (alone - result["p_ac"].to_numpy())[bright] == pytest.approx(night, abs=1e-9)
    dark = result["p_ac"].to_numpy()[alone < 0.0]
    assert dark == pytest.approx(-2.0 * night)


def test_inputs_keep_the_order_of_the_wiring():
    site = twice()
    first = site.wirings[0]
    mixed = tuple(first.trackers[at] for at in (3, 0, 4, 1, 5, 2))
    turned = site.model_copy(update={"wirings": (first.model_copy(update={"trackers": mixed}),)})
    one, two = run(site), run(turned)
    assert list(two["tracker"].to_numpy())[:2] == ["south / MPPT 1", "north / MPPT 1"]
    assert two.attrs["energy_kwh"] == pytest.approx(one.attrs["energy_kwh"], rel=1e-12)
    for name in one["tracker"].to_numpy():
        got, wanted = (each["tracker_energy"].sel(tracker=name).item() for each in (two, one))
        assert got == pytest.approx(wanted, rel=1e-12)
    strings = dict(zip(two["string"].to_numpy(), two["string_tracker"].to_numpy(), strict=True))
    for string, tracker in strings.items():
        assert string.startswith(str(two["tracker"].to_numpy()[tracker]))
    for name in one["string"].to_numpy():
        gap = one["i_string"].sel(string=name) - two["i_string"].sel(string=name)
        assert np.abs(gap.to_numpy()).max() < 1e-9


def test_both_faults_of_one_inverter_are_mended():
    # 8000 W allowed at the meter arrive there, though the lead takes its part.
    limited = run(variant({"inverter.ac.export_limit_w": 8000.0, "grid.load_w": 0.0}))
    assert limited["p_export"].to_numpy().max() == pytest.approx(8000.0, abs=1e-4)
    assert limited["p_ac"].to_numpy().max() > 8010.0
    # 15 A are 15 A at the voltage that stands at the terminals.
    weak = {"grid.network_resistance_ohm": 0.3, "inverter.ac.max_current_a": 15.0}
    result = run(variant(weak))
    held = result["ac_limit"].to_numpy()[:, 0] == AC_LIMIT["amperes"]
    amperes = result["p_ac"].to_numpy() / 3.0 / result["v_ac"].to_numpy()[:, 0]
    assert held.sum() > 300
    assert amperes[held] == pytest.approx(15.0, rel=1e-9)


def prepared(load, folder=None):
    """Return a site with a load on its weather."""
    content = demo_mapping() | {"grid": demo_mapping()["grid"] | {"load": load}}
    return prepare(site_from_mapping(content, folder=folder or ""), weather())


def test_a_day_of_loads_is_laid_on_local_hours():
    found = load_power(prepared({"kind": "day", "hours_w": DAY}))
    assert found.shape == (8760, 1)
    starts = pd.DatetimeIndex(weather().indexes["time"]) + pd.Timedelta(hours=1)
    assert (found[:, 0] == np.array(DAY)[starts.hour]).all()
    constant = load_power(prepared({"kind": "constant", "power_w": 750.0}))
    assert (constant == 750.0).all()


def measured(folder, values, start="2019-01-01", step="15min", name="load.csv"):
    """Write a measured load and return its description."""
    times = pd.date_range(start, periods=len(values), freq=step)
    pd.DataFrame({"time": times, "W": values}).to_csv(folder / name, index=False)
    return {"kind": "series", "file": name}


def test_a_measured_load_joins_by_month_day_and_time_of_day(tmp_path):
    quarters = np.arange(365 * 96) % 7000
    found = load_power(prepared(measured(tmp_path, quarters), tmp_path))
    assert found.shape == (8760, 4)
    # The weather's year begins at midnight of another day of the week than that of the file.
    first = pd.DatetimeIndex(weather().indexes["time"])[0] + pd.Timedelta(hours=1)
    moved = (first.day_of_week - pd.Timestamp("2019-01-01").day_of_week + 3) % 7 - 3
    assert found[24 * 100].tolist() == quarters[96 * (100 + moved) :][:4].tolist()
    assert found.sum() == quarters.sum()
    leap = measured(tmp_path, np.arange(366 * 24), "2020-01-01", "h", "leap.csv")
    hourly = load_power(prepared(leap, tmp_path))
    # 1 August is 1 August in a leap year too, or a day close by with the same name.
    august = first + pd.Timedelta(days=212)
    moved = (august.day_of_week - pd.Timestamp("2020-08-01").day_of_week + 3) % 7 - 3
    assert hourly[212 * 24, 0] == (213 + moved) * 24


def test_a_load_s_file_is_read_again_when_it_is_another(tmp_path):
    hours = np.arange(365 * 24) % 900
    first = load_power(prepared(measured(tmp_path, hours, step="h"), tmp_path))
    again = load_power(prepared(measured(tmp_path, hours + 100, step="h"), tmp_path))
    assert again[:, 0].tolist() == (first[:, 0] + 100.0).tolist()


def test_a_load_that_comes_and_goes_within_the_hour_is_not_its_mean(tmp_path):
    # Half an hour without a load and half with 8 kW: what may leave is 2 kW in either.
    quarters = np.tile([0.0, 0.0, 8000.0, 8000.0], 8760)
    own = measured(tmp_path, quarters)
    content = demo_mapping() | {
        "grid": demo_mapping()["grid"] | {"load": own, "export_limit_w": 2000.0}
    }
    result = run(site_from_mapping(content, folder=str(tmp_path)))
    assert result["p_export"].to_numpy().max() <= 2000.0 + 1e-4
    out, self_use, p_ac, heat = watts(result, "p_export", "p_self_use", "p_ac", "p_lead_loss")
    bright = p_ac > 4000.0
    assert bright.sum() > 500
    # The first half hour gives 2 kW, the second what there is, up to 10 kW.
    assert (self_use[bright] <= 4000.0 + 1e-6).all()
    assert np.abs(p_ac - heat - out - self_use)[bright].max() < 1e-3
    assert p_ac.max() < 6100.0


BROKEN = {
    "negative": (np.full(35_040, -5.0), "35,040 negative values, the first -5; expected consump"),
    "part of a year": (
        np.full(9000, 50.0),
        "no load in 26,040 of a year's 35,040 steps, the",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_load_that_is_none_is_refused(name, tmp_path):
    values, said = BROKEN[name]
    with pytest.raises(InputError, match="expected") as caught:
        load_power(prepared(measured(tmp_path, values), tmp_path))
    assert said in str(caught.value)


def test_a_load_of_odd_steps_is_refused(tmp_path):
    own = measured(tmp_path, np.ones(500), step="7h")
    with pytest.raises(InputError, match="got steps of 25200 s; expected steps that divide a day"):
        load_power(prepared(own, tmp_path))


def test_a_network_that_collapses_is_told_with_its_hour():
    site = variant({"grid.network_resistance_ohm": 4.5, "grid.load_w": 60_000.0})
    said = r"no voltage at which the network could take the power at \d{4}-\d\d-\d\d \d\d:00"
    with pytest.raises(InputError, match=said):
        run(site)


def test_a_curve_that_nobody_gives_is_asked_for():
    site = twice(north={"reactive": {"kind": "q-of-u"}})
    said = "q-of-u without points; expected points: the curve that the network operator asks for"
    with pytest.raises(InputError, match=said):
        run(site)
    with pytest.raises(InputError, match="Network rules en-50549-1 give none"):
        run(site)


def test_rules_that_have_a_curve_lend_it():
    own = {name: {"reactive": {"kind": "q-of-u"}} for name in NAMES}
    profile = {"profile": "ieee-1547-2018"}
    lent = run(twice(profile, **own))
    written = run(twice(profile, **{name: {"reactive": Q_OF_U} for name in NAMES}))
    assert lent.attrs["energy_kwh"] == pytest.approx(written.attrs["energy_kwh"], rel=1e-12)
    assert np.abs(lent["q_ac"].to_numpy()).max() > 1000.0


def test_active_power_first_keeps_its_power():
    def with_priority(priority):
        own = {**Q_OF_U, "points": [[0.9, 0.44], [0.95, -0.44]], "priority": priority}
        return run(twice({"export_limit_w": None}, **{name: {"reactive": own} for name in NAMES}))

    reactive, active = (with_priority(word) for word in ("reactive", "active"))
    lost = [
        float(each["loss_budget"].sel(loss_step="reactive power")) for each in (reactive, active)
    ]
    assert lost[0] > 10.0
    assert abs(lost[1]) < 1e-6


def test_draws_move_several_inverters_as_they_move_one():
    days = weather().isel(time=slice(24 * 150, 24 * 164))
    uncoupled = {"network_resistance_ohm": 0.0, "network_reactance_ohm": 0.0}
    two, one = twice(uncoupled), variant({f"grid.{key}": value for key, value in uncoupled.items()})
    drawn = draw_energies(prepare(two, days), two.wirings[:2], draws=2)
    alone = draw_energies(prepare(one, days), one.wirings[:2], draws=2)
    assert drawn.names == alone.names
    # Each plane has draws of its own, the copies' included: the same to a few percent.
    assert drawn.energy_kwh / alone.energy_kwh == pytest.approx(2.0, rel=0.1)
    assert np.ptp(drawn.energy_kwh[:, 0]) > 0.0


def test_strings_are_laid_by_inverter_and_input():
    content = twice().model_dump(exclude={"folder"})
    places = {plane.name: plane for plane in demo().planes}
    for plane in content["planes"]:
        whole = places[plane["name"].removesuffix(" too")]
        plane |= {"drawing": whole.drawing, "cable_exit": whole.cable_exit}
    for kind in content["module_types"]:
        kind |= {"length_m": 1.722, "width_m": 1.134, "lead_length_m": 1.2}
    for wired in content["wirings"]:
        for tracker in wired["trackers"]:
            for string in tracker["strings"]:
                string["cable"] = {"length_m": 9.0, "cross_section_mm2": 4.0}
    site = site_from_mapping(content)
    first = site.wirings[0]
    layout = string_layout(site, first)
    assert [run.mppt for run in layout][::4] == ["north / MPPT 1", "south / MPPT 1"]
    laid = laid_wiring(first, layout)
    assert [tracker.inverter for tracker in laid.trackers] == ["north"] * 3 + ["south"] * 3
    lengths = [s.cable.length_m for tracker in laid.trackers for s in tracker.strings]
    assert lengths[:4] == lengths[4:]
    assert 9.0 not in lengths


def test_comparing_says_who_looks_for_better():
    site = twice()
    found = compare(site, weather=weather())
    assert found.best == compare(demo(), weather=weather()).best
    said = found.better().sentence
    assert said == (
        "Whether there is better was not looked at: `yieldkit propose` looks for the best wirings "
        "over several inverters."
    )
    told = " ".join(found.assumptions)
    assert "north: Inlet air" in told
    assert "Each inverter switches off for itself" in told


def test_a_single_wiring_name_helper_is_not_confused_by_an_inverter_called_alike():
    # Names may hold slashes and dots; results keep them as they are.
    content = twice().model_dump(exclude={"folder"})
    for installed in content["inverters"]:
        installed["name"] = installed["name"] + " / a.b"
    for each in content["wirings"]:
        for tracker in each["trackers"]:
            tracker["inverter"] = tracker["inverter"] + " / a.b"
    site = site_from_mapping(content)
    assert next(iter(site.inputs())) == "north / a.b / MPPT 1"
    assert site.variant({"inverters.0.lead.length_m": 30.0}).inverters[0].lead.length_m == 30.0
