"""Conductors against printed tables and worked examples (check-values block 9)."""

import csv
from pathlib import Path

import numpy as np
import pytest

from yieldkit.base.errors import InputError
from yieldkit.config.models.conductors import AcLead, Cable
from yieldkit.design.equipment.ampacity import (
    ambient_factor,
    ampacity_base,
    bunching_factor,
    lead_ampacity,
)
from yieldkit.design.equipment.cables import (
    ac_lead_table,
    cable_loss,
    resistance_per_m,
    string_resistance,
    voltage_change,
)

PRINTED = Path(__file__).parent


def rows(name):
    """Return the rows of a printed table."""
    with (PRINTED / name).open(encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


@pytest.mark.parametrize("row", rows("conductor_resistance.csv"), ids=str)
def test_resistances_at_20_degrees(row):
    keys = list(row)
    sections = [key for key in keys if key.replace(".", "").isdigit()]
    if not sections:
        found = resistance_per_m(
            float(row["cross_section_mm2"]), row["material"], row["conductor_class"], 20.0
        )
        assert 1000.0 * found == pytest.approx(float(row["resistance_20c_ohm_per_km"]))
        return
    for section in sections:
        if row[section]:
            found = resistance_per_m(float(section), row["material"], row["conductor_class"], 20.0)
            assert 1000.0 * found == pytest.approx(float(row[section])), section


@pytest.mark.parametrize(
    "row", rows("ampacity.csv"), ids=lambda row: " ".join(list(row.values())[:4])
)
def test_ampacities(row):
    found = ampacity_base(
        row["insulation"], int(row["loaded"]), row["method"], float(row["cross_section_mm2"])
    )
    assert found == float(row["ampacity_a"])


def test_resistance_rises_with_temperature():
    # R(70)/R(20) = 1.1965, R(90)/R(20) = 1.2751 for copper; computed.
    cold = resistance_per_m(6.0, "copper", "class-2", 20.0)
    assert resistance_per_m(6.0, "copper", "class-2", 70.0) / cold == pytest.approx(
        1.1965, abs=1e-3
    )
    assert resistance_per_m(6.0, "copper", "class-2", 90.0) / cold == pytest.approx(
        1.2751, abs=1e-3
    )


# Ambient factors, read: PVC and XLPE at 35 to 60 degC; bunched circuits 1 to 6, from memory.
@pytest.mark.parametrize(
    ("insulation", "factors"),
    [
        ("pvc", {35: 0.94, 40: 0.87, 45: 0.79, 50: 0.71, 55: 0.61, 60: 0.50}),
        ("xlpe", {35: 0.96, 40: 0.91, 45: 0.87, 50: 0.82, 55: 0.76, 60: 0.71}),
    ],
)
def test_ambient_factors(insulation, factors):
    highest = {"pvc": 70.0, "xlpe": 90.0}[insulation]
    for ambient, factor in factors.items():
        assert ambient_factor(insulation, float(ambient)) == factor
        assert factor == pytest.approx(np.sqrt((highest - ambient) / (highest - 30.0)), abs=0.011)
    assert np.isnan(ambient_factor(insulation, 95.0))


def test_bunching_factors():
    found = [bunching_factor(number) for number in (1, 2, 3, 4, 5, 6)]
    assert found == [1.0, 0.80, 0.70, 0.65, 0.60, 0.57]
    assert np.isnan(bunching_factor(30))


# DC 9 A, 30 m one way, 70 degC, class 5 tinned, 600 V: 3.289 V and 29.60 W at 4 mm2, 2.190 V and
# 19.71 W at 6 mm2; computed.
@pytest.mark.parametrize(("section", "volts", "watts"), [(4.0, 3.289, 29.60), (6.0, 2.190, 19.71)])
def test_string_cables(section, volts, watts):
    cable = Cable(
        length_m=30.0,
        cross_section_mm2=section,
        conductor_class="class-5-tinned",
        temp_conductor_c=70.0,
    )
    loop = string_resistance(cable)
    assert 9.0 * loop == pytest.approx(volts, abs=2e-3)
    assert 81.0 * loop == pytest.approx(watts, abs=0.02)


def test_single_phase_lead():
    # 5 kW, 230 V, 6 mm2 class 2, 20 m, 70 degC: 3.2045 V, 1.393 %; computed.
    per_m = resistance_per_m(6.0, "copper", "class-2", 70.0)
    volts = voltage_change(5000.0 / 230.0, per_m, 0.0, 20.0, 1)
    assert volts == pytest.approx(3.2045, abs=2e-3)
    assert 100.0 * volts / 230.0 == pytest.approx(1.393, abs=1e-3)


def test_three_phase_lead():
    # 10 kW, 400 V, 30 m, 6 mm2: 14.434 A, 2.7639 V, 0.691 %; computed.
    per_m = resistance_per_m(6.0, "copper", "class-2", 70.0)
    current = 10_000.0 / (np.sqrt(3.0) * 400.0)
    assert current == pytest.approx(14.434, abs=1e-3)
    volts = voltage_change(current, per_m, 0.0, 30.0, 3)
    assert volts == pytest.approx(2.7639, abs=2e-3)
    assert cable_loss(current, per_m, 30.0, 3) == pytest.approx(3 * current**2 * per_m * 30.0)


def test_change_scales_with_current_and_length_and_falls_with_the_section():
    per_m = {s: resistance_per_m(s, "copper", "class-2", 70.0) for s in (6.0, 25.0)}
    once = voltage_change(10.0, per_m[6.0], 8e-5, 20.0, 1, 0.95)
    assert voltage_change(20.0, per_m[6.0], 8e-5, 20.0, 1, 0.95) == pytest.approx(2.0 * once)
    assert voltage_change(10.0, per_m[6.0], 8e-5, 40.0, 1, 0.95) == pytest.approx(2.0 * once)
    assert per_m[25.0] < 0.3 * per_m[6.0]
    assert resistance_per_m(16.0, "aluminium", "class-2", 20.0) / resistance_per_m(
        16.0, "copper", "class-2", 20.0
    ) == pytest.approx(1.65, abs=0.03)


def test_ampacity_with_its_corrections():
    lead = AcLead(
        length_m=20.0,
        cross_section_mm2=6.0,
        installation_method="B2",
        insulation="pvc",
        temp_ambient_c=40.0,
        circuits_bunched=2,
    )
    assert lead_ampacity(lead, 3) == pytest.approx(34.0 * 0.87 * 0.80)
    assert lead_ampacity(lead, 1) == pytest.approx(38.0 * 0.87 * 0.80)


def test_the_smallest_section_that_does_is_marked_once():
    lead = AcLead(length_m=40.0, cross_section_mm2=4.0, installation_method="B2")
    table = ac_lead_table(lead, 3, 230.0, 21.7)
    assert table["smallest_that_does"].sum() == 1
    chosen = table[table["smallest_that_does"]].iloc[0]
    assert chosen["verdict"] == "passes"
    assert chosen["percent"] <= 3.0
    smaller = table[table["cross_section_mm2"] < chosen["cross_section_mm2"]]
    assert ((smaller["percent"] > 3.0) | (smaller["verdict"] != "passes")).all()
    assert (np.diff(table["volts"]) < 0.0).all()
    assert table["drawn"].sum() == 1


# Method B2, three loaded conductors, PVC (read): 27 A at 4 mm2, 34 A at 6 mm2.
@pytest.mark.parametrize(
    ("current", "device", "smallest"), [(21.7, None, 4.0), (21.7, 32.0, 6.0), (33.0, 25.0, 6.0)]
)
def test_a_section_carries_the_current_and_what_its_device_lets_through(current, device, smallest):
    lead = AcLead(
        length_m=5.0,
        cross_section_mm2=4.0,
        installation_method="B2",
        insulation="pvc",
        overcurrent_device_a=device,
    )
    table = ac_lead_table(lead, 3, 230.0, current)
    passing = table[table["verdict"] == "passes"]
    assert passing["cross_section_mm2"].min() == smallest


def test_reactance_adds_to_the_change_of_a_lagging_current():
    # 2 x 10 A x 50 m x (3 mohm/m x 0.8 + 0.1 mohm/m x 0.6) = 2.46 V; by hand.
    assert voltage_change(10.0, 0.003, 0.0001, 50.0, 1, 0.8) == pytest.approx(2.46)


def test_an_odd_section_is_refused_with_those_there_are():
    with pytest.raises(InputError, match="5 mm2") as refused:
        resistance_per_m(5.0, "copper", "class-2", 20.0)
    assert "1.5, 2.5, 4, 6, 10" in str(refused.value)
