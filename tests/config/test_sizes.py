"""Every number of a site file has a size beyond which the likely slip is told."""

import csv
import json
from pathlib import Path

import pytest

from tests.config.small import mapping, refusal
from yieldkit.config.relations.sizes import SIZES
from yieldkit.config.site.files import site_from_mapping

SCHEMA = json.loads((Path(__file__).parents[2] / "site_configs/site-schema.json").read_text())
# In `magnitudes`, each with a test of its own there.
ELSEWHERE = {
    "weather.wind_height_m",
    "planes.cable_exit.onward_m",
    "grid.lead.length_m",
    "grid.network_resistance_ohm",
    "grid.network_reactance_ohm",
    "wirings.trackers.strings.cable.length_m",
    "inverter.night_power_w",
    "inverter.auxiliary_power_w",
    "inverter_types.night_power_w",
    "inverter_types.auxiliary_power_w",
    "inverters.lead.length_m",
}


def numeric_keys(node, at=()):
    """Yield each numeric key of the schema with its largest value, by the keys alone."""
    if "$ref" in node:
        node = SCHEMA["$defs"][node["$ref"].rsplit("/", 1)[1]]
    if node.get("type") in ("number", "integer") and "enum" not in node and "const" not in node:
        yield ".".join(at), node.get("maximum", node.get("exclusiveMaximum"))
    for key, inner in node.get("properties", {}).items():
        yield from numeric_keys(inner, (*at, key))
    inners = [*node.get("anyOf", ()), *node.get("oneOf", ()), *node.get("prefixItems", ())]
    for inner in (*inners, *filter(None, [node.get("items")])):
        yield from numeric_keys(inner, at)


KEYS = dict(numeric_keys(SCHEMA))


def test_every_number_has_a_size():
    assert len(KEYS) > 120
    nearly_anything = {key for key, most in KEYS.items() if most is None or most >= 100_000}
    # Any seed is as good as another, and prices are in any currency.
    prices = {"inverter.price.amount", "inverter_types.price.amount"}
    prices |= {"offer.outlay", "offer.running_costs_per_year", "offer.replacements.cost"}
    seeds = {"grid.network_voltage.seed", "weather.within_hour.seed"}
    assert nearly_anything - set(SIZES) - ELSEWHERE == {*seeds, *prices}
    assert set(SIZES) <= set(KEYS)
    assert set(SIZES).isdisjoint(ELSEWHERE)


def test_the_sizes_are_those_written_down():
    # Common practice, no source: who changes one changes the table, too.
    with Path(__file__).with_name("sizes.csv").open(encoding="utf-8", newline="") as stream:
        written = {
            row["key"]: (float(row["least"]), float(row["most"]), row["unit"], bool(row["or_zero"]))
            for row in csv.DictReader(stream)
        }
    assert written == {
        key: (size.least, size.most, size.unit, size.or_zero) for key, size in SIZES.items()
    }


def put(content, key, value):
    """Put a value where a key stands, making what is missing on the way."""
    *way, last = key.split(".")
    node = content
    for step in way:
        inner = node.get(step)
        if isinstance(inner, list | tuple):
            node[step] = inner = list(inner) or [{}]
            inner[0] = dict(inner[0])
            node = inner[0]
        else:
            made = [{}] if step in ("power_matrix", "max_dc_power_pairs") else dict(inner or {})
            node[step] = made
            node = made[0] if isinstance(made, list) else made
    node[last] = [value] if last == "voltages_v" else value
    return content


COUNTED = {"cells", "diodes", "connectors", "poles", "circuits", "inverters", "modules"}


@pytest.mark.parametrize("key", sorted(SIZES))
def test_a_number_far_too_large_or_small_is_told_at_its_key(key):
    size, bound = SIZES[key], KEYS[key]
    beyond = [min(30.0 * size.most, bound)] if bound > size.most else []
    if size.least > 0.0 and size.unit not in COUNTED:
        beyond.append(size.least / 30.0)
    assert beyond
    for value in beyond:
        given = int(value) if size.unit in COUNTED else value
        said = [each.sentence() for each in refusal(put(mapping(), key, given)).problems]
        last = key.rsplit(".", 1)[-1]
        assert any(last in each.split(": got")[0] for each in said), said


LEAD = {"length_m": 20.0, "cross_section_mm2": 6.0}


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("inverter.ac.export_limit_w", 7.5, "got 7.5 W; expected 0, or 50 to 2000000 W. In kilo"),
        ("inverter.ac.export_limit_w", 7.5, "In kilowatts? Write 7500."),
        ("inverter.ac.max_current_a", 24_000.0, "In milliamperes? Write 24."),
        ("inverter.ac.max_current_a", 7e7, "Another unit, or a slipped decimal point?"),
        ("inverter.connector_rated_voltage_v", 1.5, "In kilovolts? Write 1500."),
        ("inverter.mppts.start_delay_s", 60_000.0, "In milliseconds? Write 60."),
        ("inverter.mppts.max_power_w", 9.0, "In kilowatts? Write 9000."),
        (
            "inverter.altitude_derating",
            {"above_m": 1000, "percent_per_100_m": 12},
            "Per kilometre?",
        ),
        ("grid.load_w", 0.3, "got 0.3 W; expected 0, or 1 to 2000000 W. In kilowatts? Write 300."),
        ("grid.lead", LEAD | {"overcurrent_device_a": 25_000}, "In milliamperes? Write 25."),
        ("grid.network_voltage", {"correlation_time_min": 18_000}, "In seconds? Write 300."),
        ("grid.network_voltage", {"noise_v": 500.0}, "In millivolts? Write 0.5."),
        ("module_types.lead_length_m", 1200.0, "In millimetres? Write 1.2."),
        ("module_types.lead_length_m", 40.0, "In centimetres? Write 0.4."),
        ("module_types.length_m", 0.0018, "In kilometres? Write 1.8."),
        ("module_types.max_system_voltage_v", 1.5, "In kilovolts? Write 1500."),
        ("module_types.max_ocpr_a", 25_000.0, "In milliamperes? Write 25."),
        ("module_types.v_oc_tolerance_percent", 30.0, "A slipped decimal point? Write 3."),
        ("module_types.capacitance_nf_per_kwp", 0.08, "In microfarads? Write 80."),
        ("module_types.capacitance_nf_per_kwp", 90_000.0, "In picofarads? Write 90."),
        ("module_types.capacitance_nf_per_kwp", 90_000.0, "expected 1 to 10000 nF per kWp"),
    ],
)
def test_the_likely_slip_is_told_with_what_to_write(key, value, said):
    found = [each.sentence() for each in refusal(put(mapping(), key, value)).problems]
    assert any(said in each for each in found), found


def test_what_its_type_refuses_is_not_told_twice():
    problems = refusal(put(mapping(), "inverter.ac.max_current_a", -3.0)).problems
    assert len(problems) == 1
    problems = refusal(put(mapping(), "inverter.ac.nominal_power_w", 15.0)).problems
    assert [each.sentence() for each in problems if "nominal_power_w: " in each.sentence()][
        1:
    ] == []


def test_zero_stays_what_it_says():
    content = put(mapping(), "inverter.ac.export_limit_w", 0.0)
    assert site_from_mapping(content).inverter.ac.export_limit_w == 0.0
