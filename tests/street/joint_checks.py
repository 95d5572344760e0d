"""What a house of several inverters is asked: the product's answer against the second opinion's.

Each inverter's strings, inputs and own lead are asked what a house of its own would be asked; the
rest is what they do together.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from tests.street import house_checks, oracle_joint, oracle_rules
from tests.street.house_checks import AMPERES, KWH, VOLTS, kwh, value, widest


def inverters(walk):
    """Return the names of a house's inverters in the order of its file."""
    return [each["name"] for each in walk.site["inverters"]]


def seen_alone(walk, name):
    """Return a house as one of its inverters sees it: its strings, its findings, its own lead."""
    table = walk.findings.copy()
    own = table["subject"].str.startswith(f"{name} / ")
    lead = table["subject"] == f"AC lead of {name}"
    way = table["subject"] == f"AC lead of {name} and common AC lead"
    table = table[own | lead | way]
    table["subject"] = table["subject"].str.removeprefix(f"{name} / ")
    table.loc[lead, "subject"] = "AC lead"
    return SimpleNamespace(site=oracle_joint.alone(walk.site, name), findings=table)


def each_inverter_is_asked_what_one_is(walk):
    for name in inverters(walk):
        own = seen_alone(walk, name)
        house_checks.strings_have_their_voltages(own)
        house_checks.inputs_carry_their_currents(own)
        house_checks.fuses_are_asked_for_where_they_are_needed(own)
        house_checks.string_cables_carry_what_may_flow(own)


def every_lead_carries_its_current(walk):
    views = {name: oracle_joint.alone(walk.site, name) for name in inverters(walk)}
    currents = {name: oracle_rules.design_current(view) for name, view in views.items()}
    first = next(iter(views.values()))
    common = first | {"grid": walk.site["grid"]}
    stretches = {f"AC lead of {name}": (view, currents[name]) for name, view in views.items()}
    stretches["common AC lead"] = common, sum(currents.values())
    for wiring in walk.site["wirings"]:
        for subject, (view, current) in stretches.items():
            lead_is_guarded(walk, wiring["name"], subject, view, current)
        for name, view in views.items():
            change = oracle_rules.lead_change_percent(view)
            together = sum(currents.values()) / currents[name]
            shared = common | {"inverter": view["inverter"]}
            change += together * oracle_rules.lead_change_percent(shared)
            told = value(
                walk,
                wiring["name"],
                "voltage change of the AC lead",
                f"AC lead of {name} and common AC lead",
            )
            assert told == pytest.approx(change, rel=AMPERES), name


def lead_is_guarded(walk, wiring, subject, view, current):
    check = "AC overcurrent device against the current"
    assert value(walk, wiring, check, subject, "limit") == pytest.approx(current, rel=AMPERES)
    check = "AC overcurrent device against the lead"
    ampacity = oracle_rules.lead_ampacity(view)
    assert value(walk, wiring, check, subject, "limit") == pytest.approx(ampacity, rel=AMPERES)
    good = current <= view["grid"]["lead"]["overcurrent_device_a"] <= ampacity
    verdicts = {
        value(walk, wiring, each, subject, "verdict")
        for each in (check, "AC overcurrent device against the current")
    }
    assert verdicts == {"passes"} if good else "not permitted" in verdicts, subject


def every_wiring_gives_its_kwh(walk):
    house_checks.every_wiring_gives_its_kwh(walk)
    for name, result in walk.results.items():
        labels = [str(each) for each in result["tracker"].to_numpy()]
        wiring = next(each for each in walk.site["wirings"] if each["name"] == name)
        assert labels == [f"{t['inverter']} / {t['mppt']}" for t in wiring["trackers"]]
        assert [str(each) for each in result["inverter"].to_numpy()] == inverters(walk)


def every_step_of_the_budget_is_what_it_is(walk):
    for name, result in walk.results.items():
        year = walk.years[name]
        for step, expected in year.steps.items():
            # An hour of dawn in which only one of both sees an inverter start.
            small = 1e-5 * year.delivered_kwh + 0.02
            near = 0.01 if step == "network voltage" else KWH
            found = kwh(result, step)
            assert found == pytest.approx(expected, rel=near, abs=small), f"{name}: {step}"
        assert result.attrs["budget_closure"] < 1e-9


def the_meter_counts_what_passes_it(walk):
    for name, result in walk.results.items():
        for account, expected in walk.years[name].at_meter.items():
            found = walk.roofs.kwh(result[account].to_numpy())
            assert found == pytest.approx(expected, rel=KWH), f"{name}: {account}"
        limit = walk.site["grid"].get("export_limit_w", np.inf)
        assert result["p_export"].max() <= limit + 1e-4
        told = walk.simulated[name].out
        sentence = " ".join(told[told.index("At the meter:") :].split())
        load, self_use, out, drawn = (
            f"{walk.roofs.kwh(result[key].to_numpy()):,.0f} kWh"
            for key in ("p_load", "p_self_use", "p_export", "p_import")
        )
        # Weather of an hour's step, so that the hour's least is not the least of the means.
        said = f"At the meter: load {load}, of it at most {self_use} from the plant; "
        assert sentence.startswith(f"{said}exported {out}, imported at least {drawn} "), name
        assert "from the plant is an upper bound: the plant's power is known in" in sentence


def every_terminal_stands_at_its_voltage(walk):
    for name, result in walk.results.items():
        year = walk.years[name]
        for place, inverter in enumerate(inverters(walk)):
            gap = widest(walk, result["v_ac"].to_numpy()[:, place], year.volts[:, place])
            assert gap < VOLTS, f"{name}, {inverter}: {gap:.3f} V"
            gap = widest(walk, result["q_ac"].to_numpy()[:, place], year.q[:, place])
            assert gap < 10.0, f"{name}, {inverter}: {gap:.1f} var"
        assert widest(walk, result["v_connection"].to_numpy(), year.meter) < VOLTS, name


def each_switches_off_for_itself(walk):
    for name, result in walk.results.items():
        for place, inverter in enumerate(inverters(walk)):
            own = walk.years[name].lost[:, place]
            gap = widest(walk, result["off_fraction"].to_numpy()[:, place], own)
            assert gap < 0.01, f"{name}, {inverter}: {100 * gap:.2f} points"


def each_is_held_back_by_its_share(walk):
    for name, result in walk.results.items():
        year = walk.years[name]
        for place, inverter in enumerate(inverters(walk)):
            found = walk.roofs.kwh(result["p_held_back"].to_numpy()[:, place])
            expected = walk.roofs.kwh(year.held_back[:, place])
            small = 2e-5 * year.delivered_kwh + 0.02
            assert found == pytest.approx(expected, rel=KWH, abs=small), f"{name}, {inverter}"


def a_proposal_shares_the_planes_out(walk):
    said = walk("propose", "--out", "proposed", "--no-report", "--draws", "0", "--top", "2")
    if said.code == 2:
        # Inputs of the kiln's inverter share limits.
        assert "got inputs that share limits" in said.err
        assert "kiln" in inverters(walk)
        return
    assert said.code in (0, 1), said.err
    told = " ".join(said.out.split())
    assert "this way to share the planes out yields most" in told
    assert "were solved exactly, all others bounded" in told
    table = (walk.elsewhere / "proposed" / "ranking.csv").read_text(encoding="utf-8")
    assert float(table.splitlines()[1].split(",")[1]) > 1000.0


JOINT_CHECKS = (
    house_checks.planes_get_the_light_they_face,
    every_wiring_gives_its_kwh,
    every_step_of_the_budget_is_what_it_is,
    the_meter_counts_what_passes_it,
    every_terminal_stands_at_its_voltage,
    each_switches_off_for_itself,
    each_is_held_back_by_its_share,
    each_inverter_is_asked_what_one_is,
    every_lead_carries_its_current,
    house_checks.the_check_ends_by_its_findings,
    house_checks.the_comparison_ranks_by_what_is_delivered,
    a_proposal_shares_the_planes_out,
)
