"""Datasheet values that can't be: the sentence for each, and real modules that pass."""

import pvlib
import pytest

from tests.config.small import mapping, refusal, sentence
from yieldkit.base.errors import InputError
from yieldkit.config.site.files import site_from_mapping

pytestmark = pytest.mark.slow

MODULE = mapping()["module_types"][0]
WHERE = "site, module_types.0."


def module(**more):
    """Return the small site with a datasheet that says more."""
    return mapping() | {"module_types": [MODULE | more]}


# Pairs and sentences follow the list of bad inputs collected for this project; the spans come
# from the bundled module list (0.5 to 99.5 %, widened; computed).
CASES = {
    "V/K for %/K": (
        module(beta_voc="-0.28 V/K"),
        "beta_voc: got '-0.28 V/K', which is -0.57 %/K of 49.5 V; expected -0.48 to -0.20 %/K for "
        "crystalline modules. Did you mean -0.28 %/K? Write '-0.28 %/K'.",
    ),
    "V/K for mV/K": (
        module(beta_voc="-139.6 V/K"),
        "beta_voc: got '-139.6 V/K', which is -282.02 %/K of 49.5 V; expected -0.48 to -0.20 %/K "
        "for crystalline modules. Did you mean -139.6 mV/K? Write '-139.6 mV/K'.",
    ),
    "%/K for V/K": (
        module(beta_voc="-0.139 %/K"),
        "Did you mean -0.139 V/K? Write '-0.139 V/K'.",
    ),
    "mV/K for V/K": (module(beta_voc="-0.139 mV/K"), "Did you mean -0.139 V/K? Write '-0.139 V/"),
    "a sign": (
        module(beta_voc="0.28 %/K"),
        "beta_voc: got '0.28 %/K', which is positive; expected a negative coefficient. The sign: "
        "voltage falls with heat. Write it with a minus.",
    ),
    "a sign and a wrong unit": (
        module(beta_voc="28 %/K"),
        "which is 28.00 %/K of 49.5 V; expected -0.48 to -0.20 %/K for crystalline modules. The "
        "sign: voltage falls with heat.",
    ),
    "power rises": (module(gamma_pmp="0.35 %/K"), "The sign: power falls with heat. Write it wit"),
    "power in watts": (
        module(gamma_pmp="-0.35 W/K"),
        "gamma_pmp: got '-0.35 W/K', which is -0.06 %/K of 540 W; expected -0.64 to -0.20 %/K for "
        "crystalline modules. Did you mean -0.35 %/K?",
    ),
    "current in amperes": (
        module(alpha_sc="0.05 A/K"),
        "alpha_sc: got '0.05 A/K', which is 0.36 %/K of 13.85 A; expected -0.06 to 0.20 %/K for "
        "crystalline modules. Did you mean 0.05 %/K? Write '0.05 %/K'.",
    ),
    "out of every span": (
        module(alpha_sc="7000 %/K"),
        "which is 7000.00 %/K of 13.85 A; expected -0.06 to 0.20 %/K for crystalline modules.",
    ),
    "no unit": (
        module(beta_voc="-0.28"),
        "beta_voc: got '-0.28': no number with a unit can be read; expected a number with %/K or "
        "V/K. Write it like '-0.28 %/K'.",
    ),
    "the unit of another quantity": (
        module(alpha_sc="0.05 V/K"),
        "alpha_sc: got '0.05 V/K': it is in V/K; expected a number with %/K or A/K. Write it like "
        "'0.05 %/K'.",
    ),
    "per cent of nothing": (module(gamma_pmp="-0.35 %"), "Write it like '-0.35 %/K'."),
    "Voc and Vmp": (
        module(v_oc_v=41.65, v_mp_v=49.5, p_max_w=642),
        "v_mp_v: got Vmp 49.5 V at or above Voc 41.65 V; expected Vmp below Voc. The two swapped?",
    ),
    "Isc and Imp": (
        module(i_sc_a=12.97, i_mp_a=13.85, p_max_w=576.9),
        "i_mp_a: got Imp 13.85 A at or above Isc 12.97 A; expected Imp below Isc. The two swapp",
    ),
    "power of another column": (
        module(v_mp_v=38.8, i_mp_a=10.4),
        "p_max_w: got Vmp x Imp = 404 W but p_max_w says 540 W; expected the two within 1 %. Vmp "
        "and Imp from the NMOT or NOCT column (800 W/m2)? Take all five values from the column "
        "for standard test conditions.",
    ),
    "power from the other column": (
        module(p_max_w=404),
        "got Vmp x Imp = 540 W but p_max_w says 404 W; expected the two within 1 %. Pmax from the "
        "NMOT or NOCT column (800 W/m2)?",
    ),
    "power in kilowatts": (module(p_max_w=0.54), "the two within 1 %. Pmax in kilowatts?"),
    "power a little off": (
        module(p_max_w=486),
        "got Vmp x Imp = 540 W but p_max_w says 486 W; expected the two within 1 %. A swapped va",
    ),
    "fill factor": (
        module(i_sc_a=30.0),
        "p_max_w: got a fill factor Pmax / (Voc x Isc) of 0.36; expected 0.45 to 0.9. Values of "
        "different columns or modules?",
    ),
    "half-cells": (
        module(cells_in_series=144),
        "cells_in_series: got 144 cells with Voc 49.5 V, which is 0.34 V per cell; expected 0.55 "
        "to 0.8 V per cell of mono-si. Half-cut modules count cells in series: 72?",
    ),
    "cells of another module": (
        module(cells_in_series=36),
        "got 36 cells with Voc 49.5 V, which is 1.38 V per cell; expected 0.55 to 0.8 V per cell "
        "of mono-si. This voltage is that of 62 to 90 cells.",
    ),
    "low light in percent": (
        module(relative_efficiency_200=97.5),
        "relative_efficiency_200: got 97.5; expected 0.85 to 1.03, efficiency at 200 W/m2 over "
        "that at STC. In percent?",
    ),
    "low light as efficiency": (module(relative_efficiency_200=0.19), "The efficiency itself?"),
    "NOCT": (module(noct_c=145), "noct_c: got 145 degC; expected 30 to 70 degC."),
    "tolerance": (
        module(power_tolerance_percent=(3, 0)),
        "power_tolerance_percent: got 3 to 0 %; expected the lowest deviation first. Write [0, 3]",
    ),
    "matrix": (
        module(power_matrix=[{"irradiance_w_m2": 1000, "temp_cell_c": 25, "power_w": 430}]),
        "power_matrix.0.power_w: got 430 W at 1000 W/m2 and 25 degC, but p_max_w 540 W; expected "
        "the two within 3 %. The matrix of another module?",
    ),
    "millimetres": (
        module(length_m=2279),
        "length_m: got 2279 m; expected up to 5 m. In millimetres? Write 2.279.",
    ),
    "centimetres": (module(width_m=113.4), "width_m: got 113.4 m; expected up to 5 m. In centime"),
    "a length that is too much, told once": (
        module(length_m=5.5, width_m=0.2),
        "length_m: got 5.5 m; expected up to 5 m. In centimetres? Write 0.055.",
    ),
    "sides swapped": (
        module(length_m=1.134, width_m=2.279),
        "length_m: got length_m 1.134 below width_m 2.279; expected the longer side in length_m, "
        "the shorter one in width_m. Are the two swapped? How modules lie on a plane says its "
        "layout: portrait or landscape.",
    ),
    "size of another module": (
        module(length_m=1.1, width_m=1.0),
        "length_m: got 540 W on 1.1 m by 1 m, an efficiency of 0.49; expected 0.04 to 0.3. The",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_a_value_that_cannot_be_is_told_with_what_it_probably_is(name):
    content, wanted = CASES[name]
    told = sentence(content)
    assert told.startswith(WHERE)
    assert wanted in told


def test_a_coefficient_as_a_bare_number_is_told_how_to_write_it():
    assert sentence(module(beta_voc=-0.28)) == (
        "site, module_types.0.beta_voc: got -0.28; expected text with its unit. Write '-0.28 %/K' "
        "or '-0.28 V/K', as the datasheet has it."
    )


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("-0.28 %/K", -0.1386),
        ("-0.28%/K", -0.1386),
        ("-0,28 %/°C", -0.1386),
        ("\u22120.28 % / C", -0.1386),
        ("-0.1386 V/K", -0.1386),
        ("-138.6 mV/degC", -0.1386),
        ("-1.386e-1 V/K", -0.1386),
    ],
)
def test_coefficients_are_read_in_every_usual_way_of_writing(written, value):
    type_ = site_from_mapping(module(beta_voc=written)).module_types[0]
    assert type_.beta_voc_v_per_k == pytest.approx(value, rel=1e-12)


def test_coefficients_come_in_units_per_kelvin_and_unknown_ones_stay_unknown():
    type_ = site_from_mapping(mapping()).module_types[0]
    assert type_.alpha_sc_a_per_k == pytest.approx(0.0005 * 13.85, rel=1e-12)
    assert type_.gamma_pmp_per_k == pytest.approx(-0.0035, rel=1e-12)
    in_watts = site_from_mapping(module(gamma_pmp="-1.89 W/K")).module_types[0]
    assert in_watts.gamma_pmp_per_k == pytest.approx(-0.0035, rel=1e-12)
    bare = {key: value for key, value in MODULE.items() if not key.startswith(("al", "be", "ga"))}
    unknown = site_from_mapping(mapping() | {"module_types": [bare]}).module_types[0]
    assert unknown.alpha_sc_a_per_k is None
    assert unknown.beta_voc_v_per_k is None
    assert unknown.gamma_pmp_per_k is None


@pytest.fixture(scope="module")
def listed():
    """Return rows of the bundled public module list as datasheets."""
    table = pvlib.pvsystem.retrieve_sam("CECMod").T
    words = {"Mono-c-Si": "mono-si", "Multi-c-Si": "poly-si", "CdTe": "cdte", "CIGS": "cigs"}
    table = table[table["Technology"].isin(list(words))]
    table = table.iloc[:: len(table) // 700]
    return [
        {
            "name": "M540",
            "source": "datasheet",
            "technology": words[row["Technology"]],
            "p_max_w": row["V_mp_ref"] * row["I_mp_ref"],
            "v_oc_v": float(row["V_oc_ref"]),
            "i_sc_a": float(row["I_sc_ref"]),
            "v_mp_v": float(row["V_mp_ref"]),
            "i_mp_a": float(row["I_mp_ref"]),
            "cells_in_series": int(row["N_s"]),
            "alpha_sc": f"{row['alpha_sc'] / row['I_sc_ref'] * 100:.4f} %/K",
            "beta_voc": f"{row['beta_oc']:.5f} V/K",
            "gamma_pmp": f"{row['gamma_r']:.4f} %/K",
        }
        for _, row in table.iterrows()
    ]


def test_real_modules_of_the_public_list_pass(listed):
    refused = sum(not _taken(each) for each in listed)
    assert len(listed) >= 700
    # Some rows of the list count cells in parallel, or give coefficients no module has.
    assert refused <= 0.03 * len(listed)


def test_real_modules_with_a_slip_are_caught(listed):
    sound = [each for each in listed if _taken(each)]
    slips = {
        "volts for percent": lambda m: m | {"beta_voc": m["beta_voc"].replace("V/K", "%/K")},
        "percent for volts": lambda m: (
            m | {"beta_voc": f"{100 * float(m['beta_voc'][:-4]) / m['v_oc_v']:.3f} V/K"}
        ),
        "half-cells": lambda m: m | {"cells_in_series": 2 * m["cells_in_series"]},
        "Voc and Vmp": lambda m: m | {"v_oc_v": m["v_mp_v"], "v_mp_v": m["v_oc_v"]},
        "the sign": lambda m: m | {"gamma_pmp": m["gamma_pmp"].lstrip("-")},
        "the other column": lambda m: (
            m | {"v_mp_v": 0.93 * m["v_mp_v"], "i_mp_a": 0.8 * m["i_mp_a"]}
        ),
    }
    for name, slip in slips.items():
        caught = sum(not _taken(slip(each)) for each in sound)
        # High voltages make either unit of the voltage's coefficient possible.
        assert caught >= 0.95 * len(sound), name


def _taken(datasheet):
    try:
        site_from_mapping(mapping() | {"module_types": [datasheet]})
    except InputError:
        return False
    return True


def test_swapped_voltages_are_the_cause_of_the_power_too():
    told = [each.sentence() for each in refusal(module(v_oc_v=41.65, v_mp_v=52.5)).problems]
    assert any("got Vmp 52.5 V at or above Voc 41.65 V; expected Vmp below Voc." in t for t in told)
    product = next(each for each in told if "Vmp x Imp = 681 W but p_max_w says 540 W" in each)
    # A factor of 1.26 would be Pmax of another column, were nothing swapped.
    assert "the two within 1 %. A swapped value? Take all five values from the" in product
