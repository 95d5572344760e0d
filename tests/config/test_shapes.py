"""Wrong shapes and values: every message of the models' pass is read here."""

import pytest

from tests.config.small import TEXT, mapping, only_problem, refusal, sentence, with_changes

CASES = {
    "azimuth from south": (
        {"planes__west__azimuth_deg": -90},
        "site, planes.0.azimuth_deg: got -90; expected compass degrees: 0 north, 90 east, "
        "180 south, 270 west. Counted from south, or from north to the west? For west write 270.",
    ),
    "azimuth beyond the circle": (
        {"planes__west__azimuth_deg": 400},
        "got 400; expected compass degrees: 0 north, 90 east, 180 south, 270 west. Counted from "
        "south, or from north to the west? For this bearing write 40.",
    ),
    "azimuth in words": (
        {"planes__west__azimuth_deg": "South West"},
        "got 'South West'; expected compass degrees: 0 north, 90 east, 180 south, 270 west. For "
        "south-west write 225.",
    ),
    "azimuth in letters": ({"planes__west__azimuth_deg": "SE"}, "For se write 135."),
    "azimuth in other words": (
        {"planes__west__azimuth_deg": "uphill"},
        "got 'uphill'; expected a number. azimuth_deg: Compass degrees: north 0, east 90",
    ),
    "azimuth as a truth value": (
        {"planes__west__azimuth_deg": True},
        "got true; expected a number.",
    ),
    "tilt as a truth value": ({"planes__west__tilt_deg": True}, "got true; expected a number."),
    "latitude in words": ({"site__latitude": "52 N"}, "The unit is in the key's name: write 52 al"),
    "southern latitude in words": ({"site__latitude": "52 S"}, "key's name: write -52 alone."),
    "western longitude in words": ({"site__longitude": "1,5 W"}, "key's name: write -1.5 alone."),
    "a voltage in kilovolts": (
        {"inverter__mppts__A__max_voltage_v": "1 kV"},
        "got '1 kV'; expected a number. The unit is in the key's name: write 1000 alone.",
    ),
    "a height in kilometres": (
        {"site__altitude_m": "0,4 km"},
        "got '0,4 km'; expected a number. The unit is in the key's name: write 400 alone.",
    ),
    "a current in milliamperes": (
        {"module_types__M540__i_sc_a": "13850 mA"},
        "got '13850 mA'; expected a number. The unit is in the key's name: write 13.85 alone.",
    ),
    "a temperature in another scale": (
        {"site__design_temperatures__highest_ambient_c": "98 F"},
        "got '98 F'; expected a number. Write the number alone, in degrees Celsius, as the key's",
    ),
    "longitude in words": ({"site__longitude": "east"}, "got 'east'; expected a number. longitude"),
    "version in words": (
        {"schema_version": "one"},
        "schema_version: got 'one'; expected one of 1, 2.",
    ),
    "a weather file over two lines": (
        {"weather": mapping()["weather"] | {"file": "a\nb"}},
        "weather.file: got 'a b'; expected text without control signs, line breaks or direction",
    ),
    "tilt beyond vertical": (
        {"planes__west__tilt_deg": 200},
        "planes.0.tilt_deg: got 200; expected degrees from horizontal, 0 to 90. A roof pitch of "
        "200 % or degrees? A pitch of 200 % is 63.4 degrees: write 63.4.",
    ),
    "tilt in percent": (
        {"planes__west__tilt_deg": "45 %"},
        "got '45 %'; expected degrees from horizontal, 0 to 90. A roof pitch in percent. "
        "A pitch of 45 % is 24.2 degrees: write 24.2.",
    ),
    "tilt with its unit": (
        {"planes__west__tilt_deg": "45 deg"},
        "got '45 deg'; expected a number. The unit is in the key's name: write 45 alone.",
    ),
    "negative tilt": (
        {"planes__west__tilt_deg": -10},
        "got -10; expected degrees from horizontal, 0 to 90. A plane's direction belongs in "
        "azimuth_deg; its tilt is never negative.",
    ),
    "latitude beyond the pole": (
        {"site__latitude": 113.0},
        "site.latitude: got 113; expected degrees north, -90 to 90. Latitude and longitude "
        "swapped? Write the latitude here.",
    ),
    "longitude beyond the circle": (
        {"site__longitude": 347.0, "site__time_zone": "UTC-01:00"},
        "site.longitude: got 347; expected degrees east, -180 to 180; west is negative. Is it -13?",
    ),
    "another version": (
        {"schema_version": 3},
        "schema_version: got 3; expected one of 1, 2. A file for another version of yieldkit? "
        "Write 1 for one inverter or 2 for several, and check the keys.",
    ),
    "comma that may be either": (
        {"site__altitude_m": "1,250"},
        "site.altitude_m: got '1,250'; expected a number. A comma between thousands, or a decimal "
        "comma? Write 1250 or 1.25, whichever is meant.",
    ),
    "decimal comma": (
        {"site__altitude_m": "40,5"},
        "site.altitude_m: got '40,5'; expected a number. A decimal comma. Write 40.5.",
    ),
    "number in quotes": (
        {"site__altitude_m": "40"},
        "got '40'; expected a number. A number in quotes. Write 40 without quotes.",
    ),
    "number with a unit": (
        {"site__altitude_m": "40 m"},
        "got '40 m'; expected a number. The unit is in the key's name: write 40 alone.",
    ),
    "a number left empty": (
        {"site__altitude_m": None},
        "got nothing; expected a number. Write the number, or leave the key out if it may be "
        "unknown.",
    ),
    "a truth value as a number": ({"site__altitude_m": True}, "got true; expected a number."),
    "a list as a number": ({"site__altitude_m": [1]}, "got a list of 1; expected a number."),
    "altitude": ({"site__altitude_m": 12000}, "got 12000; expected a number of at most 9000."),
    "depth": ({"site__altitude_m": -500.0}, "got -500; expected a number of at least -430."),
    "albedo in percent": (
        {"site": mapping()["site"] | {"albedo": 20}},
        "site.albedo: got 20; expected a number of at most 1. Written in percent? As a share it "
        "is 0.2.",
    ),
    "efficiency in percent": (
        {"inverter__efficiency": {"kind": "weighted", "european": 97.5, "maximum": 0.98}},
        "inverter.efficiency.european: got 97.5; expected a number of at most 1. Written in "
        "percent? As a share it is 0.975.",
    ),
    "efficiencies in percent": (
        {"inverter__efficiency__values__0__1": 97.0},
        "inverter.efficiency.values.0.1: got 97; expected a number of at most 1. Written in "
        "percent? As a share it is 0.97.",
    ),
    "power of nothing": (
        {"inverter__mppts__A": mapping()["inverter"]["mppts"][0] | {"max_power_w": 0}},
        "inverter.mppts.0.max_power_w: got 0; expected a number above 0. max_power_w: Largest DC "
        "power of the input [W].",
    ),
    "soiling of everything": (
        {"planes__west": mapping()["planes"][0] | {"soiling_loss_percent": 100}},
        "got 100; expected a number below 100.",
    ),
    "half a module": (
        {"planes__west__modules": 12.5},
        "planes.0.modules: got 12.5; expected a whole number. Is it 12?",
    ),
    "modules as 24.0": ({"planes__west__modules": 24.0}, "got 24; expected a whole number."),
    "a number too large": (
        {"planes__west__modules": 10**5000},
        "got a number that is too large; expected a number of at most 100000.",
    ),
    "infinite": ({"site__altitude_m": float("inf")}, "got inf; expected a finite number."),
    "no number": ({"site__altitude_m": float("nan")}, "got nan; expected a finite number."),
    "a word of choice": (
        {"planes__west__mounting": "Roof Parallel"},
        "planes.0.mounting: got 'Roof Parallel'; expected one of 'open-rack', 'flat-roof-rack', "
        "'roof-parallel', 'integrated', 'facade'. Did you mean 'roof-parallel'?",
    ),
    "a word near a choice": ({"planes__west__mounting": "open-rak"}, "Did you mean 'open-rack'?"),
    "a word far from all choices": (
        {"planes__west__mounting": "?"},
        "'facade'. mounting: How the modules are mounted, on which their temperature depends.",
    ),
    "phases": ({"inverter__ac__phases": 2}, "inverter.ac.phases: got 2; expected one of 1, 3."),
    "no as a choice": (
        {"inverter": mapping()["inverter"] | {"surge_protection": {"dc_type": False}}},
        "got false; expected one of 'none', 'type-1', 'type-2', 'type-1-2'. Write the word, or "
        "leave the key out.",
    ),
    "yes as a truth value": (
        {"invented": "yes"},
        "invented: got 'yes'; expected true or false. Write true.",
    ),
    "no as a truth value": ({"invented": "no"}, "expected true or false. Write false."),
    "a number as a name": (
        {"site__name": 12},
        "site.name: got 12; expected text. Put it in quotes: '12'.",
    ),
    "no name": ({"site__name": ""}, "site.name: got ''; expected some text."),
    "a name too long": ({"site__name": "x" * 201}, "expected no more than 200 signs."),
    "a name with blanks around": (
        {"site__name": " x"},
        "expected some text, without blanks around it.",
    ),
    "a map where a list belongs": (
        {"module_types": mapping()["module_types"][0]},
        "module_types: got the keys source, name, technology, p_max_w, v_oc_v, i_sc_a, v_mp_v, "
        "i_mp_a, c...; expected a list. Begin every entry with '- ', also a "
        "single one.",
    ),
    "a list left empty": (
        {"module_types": ()},
        "module_types: got a list of 0; expected at least 1 entry.",
    ),
    "nothing where a list belongs": (
        {"wirings": None},
        "wirings: got nothing; expected a list. Write the entries below it, or leave the key out.",
    ),
    "a word where keys belong": (
        {"inverter_place": "cellar"},
        "inverter_place: got 'cellar'; expected keys and values. inverter_place: Version 1: "
        "where the inverter hangs.",
    ),
    "three of two": (
        {
            "module_types__M540": mapping()["module_types"][0]
            | {"power_tolerance_percent": (0, 1, 2)}
        },
        "power_tolerance_percent: got a list of 3; expected at most 2 entries.",
    ),
    "one of two": (
        {"module_types__M540": mapping()["module_types"][0] | {"power_tolerance_percent": (0,)}},
        "power_tolerance_percent.1: got no '1'; expected a value for it.",
    ),
    "an unknown source": (
        {"module_types__M540__source": "data-sheet"},
        "module_types.0.source: got 'data-sheet'; expected one of 'datasheet', 'cec-list'. Did "
        "you mean 'datasheet'?",
    ),
    "an unknown kind": (
        {"inverter__efficiency__kind": "curve"},
        "inverter.efficiency.kind: got 'curve'; expected one of 'table', 'weighted', "
        "'sandia-list'.",
    ),
    "no kind": (
        {"inverter__efficiency": {"european": 0.97, "maximum": 0.98}},
        "inverter.efficiency: got no 'kind'; expected one of 'table', 'weighted', 'sandia-list'.",
    ),
    "no source": (
        {"module_types": ({"name": "M540"},)},
        "module_types.0: got no 'source'; expected one of 'datasheet', 'cec-list'.",
    ),
    "a key misspelt": (
        {"planes__west": mapping()["planes"][0] | {"azimut_deg": 270}},
        "planes.0.azimut_deg: got the unknown key 'azimut_deg'; expected a key of the schema. "
        "Did you mean 'azimuth_deg'?",
    ),
    "a key of another place": (
        {"planes__west": mapping()["planes"][0] | {"albedo": 0.3}},
        "got the unknown key 'albedo'; expected a key of the schema. It belongs under site.",
    ),
    "a misspelt key of another place": (
        {"planes__west": mapping()["planes"][0] | {"network_resistence_ohm": 0.3}},
        "Did you mean 'network_resistance_ohm', under grid?",
    ),
    "a key with the name of its part before it": (
        {"site": mapping()["site"] | {"site_altitude_m": 3}},
        "got the unknown key 'site_altitude_m'; expected a key of the schema. Did you mean "
        "'altitude_m'?",
    ),
    "a key cut short": (
        {"site": mapping()["site"] | {"ground_flash_density": 1.0}},
        "Did you mean 'ground_flash_density_per_km2_year'?",
    ),
    "a key of another kind": (
        {
            "inverter__efficiency": {"kind": "weighted", "european": 0.97, "maximum": 0.98}
            | {"voltages_v": [300.0]}
        },
        "got the unknown key 'voltages_v'; expected a key of the schema. It belongs to "
        "kind: table.",
    ),
    "a key without a blank after its colon": (
        {"planes__west": mapping()["planes"][0] | {"tilt_deg:30": None}},
        "got the unknown key 'tilt_deg:30'; expected a key of the schema. Put an ordinary blank "
        "after the colon.",
    ),
    "no modules on a plane that is wired": (
        {"planes__west__modules": -24},
        "planes.0.modules: got -24; expected a number of at least 1.",
    ),
    "a dash for a minus": (
        {"site__latitude": "\N{MINUS SIGN}34,9"},
        "expected a number. A dash that is no minus. Write -34.9.",
    ),
    "a key of the top level": (
        {"site": mapping()["site"] | {"wirings": 1}},
        "It belongs under the top level.",
    ),
    "a key of nowhere": (
        {"qqq": "red"},
        "qqq: got the unknown key 'qqq'; expected a key of the schema. See `yieldkit schema`.",
    ),
    "the folder": (
        {"folder": "/"},
        "folder: got the unknown key 'folder'; expected a key of the schema. Relative paths count "
        "from the site file's own folder.",
    ),
    "a coefficient that is a list": (
        {"module_types__M540__beta_voc": ["-0.28 %/K"]},
        "module_types.0.beta_voc: got a list of 1; expected text.",
    ),
    "notes with a control sign": (
        {"notes": "a\x1bb"},
        "notes: got 'a\\u001bb'; expected text without control signs or direction signs.",
    ),
}


def _merged(changes):
    """Return the small site with changes; keys that are new are set at the top."""
    content = mapping()
    fresh = {key: value for key, value in changes.items() if "__" not in key}
    if len(fresh) == len(changes):
        return content | fresh
    return with_changes(**changes)


@pytest.mark.parametrize("name", CASES)
def test_a_wrong_value_is_told_with_what_is_expected_and_what_to_do(name):
    changes, wanted = CASES[name]
    assert wanted in sentence(_merged(changes))


@pytest.mark.parametrize(
    ("where", "key", "wanted"),
    [
        (("site",), "time_zone", "site.time_zone: got no 'time_zone'; expected a value for it. "),
        (("planes", 0), "mounting", "planes.0.mounting: got no 'mounting'; expected a value for "),
        (("inverter",), "ac", "inverter.ac: got no 'ac'; expected a value for it. ac: The AC sid"),
        ((), "schema_version", "schema_version: got no 'schema_version'; expected a value"),
    ],
)
def test_a_missing_key_is_told_with_its_meaning(where, key, wanted):
    content = mapping()
    node = content
    for part in where:
        node = list(node)[part] if isinstance(part, int) else node[part]
    del node[key]
    assert wanted in sentence(content)


def test_lines_and_values_of_a_file_are_told():
    told = only_problem(TEXT.replace("latitude: 52.0", "latitude: 152.0"))
    assert told.where == "site file line 5, site.latitude"
    assert told.got == "152"
    told = only_problem(TEXT.replace("  altitude_m: 40\n", ""))
    assert told.where == "site file line 3, site.altitude_m"
    told = only_problem(TEXT.replace("european", "x").replace("kind: table", "kind: tabel"))
    assert told.where == "site file line 47, inverter.efficiency.kind"


def test_a_wrong_field_and_a_wrong_relation_are_told_together_with_their_lines():
    text = TEXT.replace("altitude_m: 40", "altitude_m: high").replace(
        "      - mppt: B", "      - mppt: C"
    )
    told = refusal(text).problems
    assert [each.where for each in told] == [
        "site file line 7, site.altitude_m",
        "site file line 63, wirings.0.trackers.1.mppt",
    ]
    assert str(refusal(text)).count("\n") == 1


def test_every_problem_of_a_bad_file_is_told_once():
    text = (
        TEXT.replace("tilt_deg: 30, azimuth_deg: 270", "tilt_deg: 200, azimuth_deg: -90")
        .replace("v_mp_v: 41.65", "v_mp_v: 51.65")
        .replace("beta_voc: -0.28 %/K", "beta_voc: -0.28 V/K")
        .replace("mpp_voltage_min_v: 160", "mpp_voltage_min_v: 900", 1)
        .replace("{plane: west, modules: 12}", "{plane: west, modules: 13}")
    )
    told = refusal(text).problems
    assert len(told) == len(set(told))
    assert sorted(each.where.split(", ")[1] for each in told) == [
        "inverter.mppts.0.mpp_voltage_min_v",
        "module_types.0.beta_voc",
        "module_types.0.p_max_w",
        "module_types.0.v_mp_v",
        "planes.0.azimuth_deg",
        "planes.0.tilt_deg",
        "wirings.0.trackers.0.strings.1.groups.0.modules",
    ]


def test_a_site_that_is_no_mapping_is_refused():
    assert "site: got a list; expected keys and values" in sentence([1])
    deep = {}
    deep["a"] = deep
    assert "site: got more than 32 levels; expected flatter content" in sentence(deep)
