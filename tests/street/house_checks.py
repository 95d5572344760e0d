"""What every house of the street is asked: the product's answer against the second opinion's."""

import numpy as np
import pytest

from tests.street import oracle, oracle_rules

KWH, POA, VOLTS, AMPERES = 2e-3, 1e-3, 0.1, 1e-3
"""Tolerances: energies, light on planes and currents relative, voltages absolute [V]."""


def value(walk, wiring, check, subject, column="value"):
    """Return a figure of a finding."""
    table = walk.findings
    rows = table[
        (table["wiring"] == wiring) & (table["check"] == check) & (table["subject"] == subject)
    ]
    assert len(rows) == 1, f"{check}, {subject}: {len(rows)} findings"
    return rows[column].iloc[0]


def strings(walk):
    """Yield wiring, subject and entry of every string."""
    for wiring in walk.site["wirings"]:
        for tracker in wiring["trackers"]:
            for number, string in enumerate(tracker["strings"], start=1):
                yield wiring["name"], f"{tracker['mppt']}, string {number}", string


def inputs(walk):
    """Yield wiring and entry of every input in use."""
    for wiring in walk.site["wirings"]:
        for tracker in wiring["trackers"]:
            yield wiring["name"], tracker


def fuse_of(walk, tracker, string):
    """Return the rating of a string's fuse, its own or the inverter's [A]; none is None."""
    mppts = {mppt["name"]: mppt for mppt in walk.site["inverter"]["mppts"]}
    return string.get("fuse_a", mppts[tracker["mppt"]].get("string_fuses_built_in_a"))


def kwh(result, step):
    """Return a step of a result's loss budget [kWh]."""
    return float(result["loss_budget"].sel(loss_step=step))


def widest(walk, found, own):
    """Return the widest gap to the second opinion; nan stands where there is no weather only."""
    present = walk.roofs.present
    assert (np.isnan(found) == ~present).all()
    return np.abs(found - own)[present].max()


def planes_get_the_light_they_face(walk):
    any_result = next(iter(walk.results.values()))
    for roof in walk.site["planes"]:
        found = float(any_result["plane_irradiation"].sel(plane=roof["name"]))
        expected = walk.roofs.kwh(walk.roofs.light[roof["name"]]["poa"])
        assert found == pytest.approx(expected, rel=POA), roof["name"]
        warm = any_result["temp_cell"].sel(plane=roof["name"]).to_numpy()
        bright = walk.roofs.light[roof["name"]]["poa"] > 200.0
        gap = np.abs(warm - walk.roofs.light[roof["name"]]["temp_cell"])[bright].max()
        assert gap < 0.1, f"{roof['name']}: cells differ by {gap:.2f} K"


def every_wiring_gives_its_kwh(walk):
    for name, result in walk.results.items():
        year = walk.years[name]
        assert result.attrs["energy_kwh"] == pytest.approx(year.delivered_kwh, rel=KWH), name
        found = walk.roofs.kwh(result["p_dc_available"].sum("tracker").to_numpy())
        assert found == pytest.approx(year.dc_kwh, rel=KWH), name


def limits_cost_what_they_cost(walk):
    for name, result in walk.results.items():
        year = walk.years[name]
        small = 1e-5 * year.delivered_kwh
        clipped, reactive = kwh(result, "AC limit"), kwh(result, "reactive power")
        derated, kept_home = kwh(result, "temperature derating"), kwh(result, "export limit")
        assert clipped == pytest.approx(year.clipped_kwh, rel=KWH, abs=small), name
        assert derated == pytest.approx(year.derated_kwh, rel=KWH, abs=small), name
        assert reactive == pytest.approx(year.reactive_kwh, rel=KWH, abs=small), name
        assert kept_home == pytest.approx(year.kept_home_kwh, rel=KWH, abs=small), name
        # Switching off is known to a point only.
        near = 0.01 if year.network_kwh > year.held_kwh else KWH
        taken = kwh(result, "network voltage")
        assert taken == pytest.approx(year.network_kwh, rel=near, abs=small), name


def terminals_stand_at_their_voltage(walk):
    for name, result in walk.results.items():
        gap = widest(walk, result["v_ac"].to_numpy()[:, 0], walk.years[name].volts)
        assert gap < VOLTS, f"{name}: {gap:.3f} V"


def switching_off_costs_what_seconds_say(walk):
    for name, result in walk.results.items():
        gap = widest(walk, result["off_fraction"].to_numpy()[:, 0], walk.years[name].lost)
        assert gap < 0.01, f"{name}: {100 * gap:.2f} points"


def strings_have_their_voltages(walk):
    if "design_temperatures" not in walk.site["site"]:
        return voltages_are_bounded_from_below(walk)
    for wiring, subject, string in strings(walk):
        told = value(walk, wiring, "cold open-circuit voltage against the input", subject)
        assert told == pytest.approx(oracle_rules.cold_v_oc(walk.site, string), abs=VOLTS), subject
        told = value(walk, wiring, "hot operating voltage against the window", subject)
        hot = oracle_rules.hot_voltage(walk.site, string, "v_mp")
        assert told == pytest.approx(hot, abs=VOLTS), subject
        told = value(walk, wiring, "start-up voltage against hot open-circuit voltage", subject)
        hot = oracle_rules.hot_voltage(walk.site, string, "v_oc")
        assert told == pytest.approx(hot, abs=VOLTS), subject


def voltages_are_bounded_from_below(walk):
    """Without design temperatures the voltage at 25 degC forbids, and nothing permits."""
    mppts = {mppt["name"]: mppt for mppt in walk.site["inverter"]["mppts"]}
    for wiring, subject, string in strings(walk):
        least = oracle_rules.v_oc_at_stc(walk.site, string)
        over = least > mppts[subject.split(", ")[0]]["max_voltage_v"]
        check = "cold open-circuit voltage against the input"
        verdict = value(walk, wiring, check, subject, "verdict")
        assert verdict == ("not permitted" if over else "NOT CHECKED"), subject
        if over:
            assert value(walk, wiring, check, subject) == pytest.approx(least, abs=VOLTS)


def inputs_carry_their_currents(walk):
    for wiring, tracker in inputs(walk):
        total = sum(oracle_rules.short_circuit_a(walk.site, s) for s in tracker["strings"])
        check = "short-circuit current against the input's rating"
        told = value(walk, wiring, check, tracker["mppt"])
        assert told == pytest.approx(1.25 * total, rel=AMPERES), tracker["mppt"]


def fuses_are_asked_for_where_they_are_needed(walk):
    for wiring, tracker in inputs(walk):
        name = tracker["mppt"]
        verdict = value(walk, wiring, "string overcurrent protection", name, "verdict")
        if len(tracker["strings"]) == 1:
            assert verdict == "not applicable", name
            continue
        own = oracle_rules.fuses(walk.site, tracker)
        drawn = [fuse_of(walk, tracker, string) for string in tracker["strings"]]
        assert verdict == ("not permitted" if own["needed"] and None in drawn else "passes"), name
        told = value(walk, wiring, "string overcurrent protection", name)
        if own["fault_a"] > 0.0:
            assert told == pytest.approx(own["fault_a"], rel=AMPERES), name
        if None in drawn:
            continue
        window = value(walk, wiring, "string fuse rating", name, "verdict")
        least = own["low_a"] if own["inclusive"] else own["low_a"] * (1.0 + 1e-9)
        fits = all(least <= fuse <= own["high_a"] for fuse in drawn)
        assert window == ("passes" if fits else "not permitted"), name
        told = value(walk, wiring, "string fuse rating", name, "limit")
        assert told == pytest.approx(own["high_a"], rel=AMPERES), name


def string_cables_carry_what_may_flow(walk):
    for wiring, tracker in inputs(walk):
        for number, string in enumerate(tracker["strings"], start=1):
            subject = f"{tracker['mppt']}, string {number}"
            if "cable" not in string:
                verdict = value(walk, wiring, "string cable's ampacity", subject, "verdict")
                assert verdict == "NOT CHECKED", subject
                continue
            carried, _ = oracle_rules.string_ampacity(string["cable"], len(tracker["strings"]))
            needed = oracle_rules.needed_ampacity(
                walk.site, tracker, string, fuse_of(walk, tracker, string)
            )
            told = value(walk, wiring, "string cable's ampacity", subject)
            assert told == pytest.approx(carried, rel=AMPERES), subject
            told = value(walk, wiring, "string cable's ampacity", subject, "limit")
            assert told == pytest.approx(needed, rel=AMPERES), subject
            told = value(walk, wiring, "voltage drop of the string cable", subject)
            drop = oracle_rules.string_drop_percent(walk.site, string)
            assert told == pytest.approx(drop, rel=AMPERES), subject


def the_lead_carries_its_current(walk):
    if "lead" not in walk.site.get("grid", {}):
        return
    for wiring in walk.site["wirings"]:
        name, lead = wiring["name"], walk.site["grid"]["lead"]
        check = "AC overcurrent device against the current"
        told = value(walk, name, check, "AC lead", "limit")
        assert told == pytest.approx(oracle_rules.design_current(walk.site), rel=AMPERES)
        check = "AC overcurrent device against the lead"
        told = value(walk, name, check, "AC lead", "limit")
        ampacity = oracle_rules.lead_ampacity(walk.site)
        assert told == pytest.approx(ampacity, rel=AMPERES)
        verdict = value(walk, name, check, "AC lead", "verdict")
        good = lead["overcurrent_device_a"] <= ampacity
        assert verdict == ("passes" if good else "not permitted")
        told = value(walk, name, "voltage change of the AC lead", "AC lead")
        assert told == pytest.approx(oracle_rules.lead_change_percent(walk.site), rel=AMPERES)


def the_check_ends_by_its_findings(walk):
    found = walk.findings
    forbidden = (found["verdict"] == "not permitted").any()
    unknown = (found["essential"] & (found["verdict"] == "NOT CHECKED")).any()
    assert walk.checked.code == (1 if forbidden else 4 if unknown else 0), walk.checked.err
    assert walk.checked.code == walk.house.code


def the_comparison_ranks_by_what_is_delivered(walk):
    said = walk.compared
    allowed = walk.findings.groupby("wiring")["verdict"].agg(
        lambda found: "not permitted" not in set(found)
    )
    names = [name for name in walk.years if allowed[name]]
    assert said.code == (0 if names else 1), said.err
    for name, year in walk.years.items():
        row = next(line for line in said.out.splitlines() if line.startswith(name + "  "))
        told = float(row[len(name) :].split()[0].replace(",", ""))
        assert told == pytest.approx(year.delivered_kwh, rel=KWH, abs=0.6), name
    best = max(names, key=lambda name: walk.years[name].delivered_kwh)
    assert said.out.startswith(f"'{best}' ")


def the_proposal_gives_what_it_promises(walk):
    said = walk.proposed
    assert said.code == 0, said.err
    row = next(line for line in said.out.splitlines() if line.startswith("proposed 1 "))
    promised = float(row.removeprefix("proposed 1 ").split()[0].replace(",", ""))
    allowed = walk.findings.groupby("wiring")["verdict"].agg(
        lambda found: "not permitted" not in set(found)
    )
    # A proposal draws no string fuses, so that it may fall short of a wiring that has some.
    fused = {w for w, tracker in inputs(walk) for s in tracker["strings"] if "fuse_a" in s}
    drawn = [
        year.delivered_kwh
        for name, year in walk.years.items()
        if allowed[name] and name not in fused
    ]
    assert promised >= max(drawn, default=0.0) * (1.0 - KWH), "a drawn wiring beats the best"
    the_saved_site_holds_what_was_promised(walk, promised)


def the_saved_site_holds_what_was_promised(walk, promised):
    own = {wiring["name"] for wiring in walk.site["wirings"]}
    saved = oracle.read_site(walk.site_file.parent / "best.yaml")["wirings"]
    new = [wiring for wiring in saved if wiring["name"] not in own]
    wrote = "1 proposed wiring." if len(new) == 1 else f"{len(new)} proposed wirings."
    assert f"Wrote ../best.yaml: the site with {wrote}" in walk.proposed.out
    first = new[0]
    year = oracle.year(walk.roofs, first)
    assert promised == pytest.approx(year.delivered_kwh, rel=KWH, abs=0.6), first["name"]
    again = walk("check", "--wiring", first["name"], site="../best.yaml")
    assert again.code in (0, 4), again.err


CHECKS = (
    planes_get_the_light_they_face,
    every_wiring_gives_its_kwh,
    limits_cost_what_they_cost,
    terminals_stand_at_their_voltage,
    switching_off_costs_what_seconds_say,
    strings_have_their_voltages,
    inputs_carry_their_currents,
    fuses_are_asked_for_where_they_are_needed,
    string_cables_carry_what_may_flow,
    the_lead_carries_its_current,
    the_check_ends_by_its_findings,
    the_comparison_ranks_by_what_is_delivered,
    the_proposal_gives_what_it_promises,
)
