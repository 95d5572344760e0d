"""Several inverters in a site file: what is refused, and what each inverter sees of the site."""

import copy

import pytest

from tests.config.small import mapping, refusal
from yieldkit.base.errors import InputError
from yieldkit.base.shipped import shipped
from yieldkit.config.reading.changes import changed
from yieldkit.config.site.files import load_site, site_from_mapping

TWO = load_site(shipped("site_configs", "two_inverters.yaml"))
LOAD = (*range(600, 600 + 24),)


def two(**changes):
    """Return the site of two inverters as keys and values, with parts replaced."""
    content = copy.deepcopy(TWO.model_dump())
    return changed(content, {path.replace("__", "."): value for path, value in changes.items()})


def version_2(**more):
    """Return the small site of one inverter, written as version 2."""
    content = mapping()
    kind = content.pop("inverter")
    installed = {"name": "cellar", "type": kind["name"]}
    return {**content, "schema_version": 2, "inverter_types": [kind], "inverters": [installed]} | (
        more
    )


def said(content):
    """Return every sentence that content is refused with."""
    return [problem.sentence() for problem in refusal(content).problems]


def test_version_2_with_one_inverter_is_the_same_site_to_that_inverter():
    one, other = site_from_mapping(mapping()), site_from_mapping(version_2())
    (alone,), (same,) = one.each_inverter(), other.each_inverter()
    assert same.site == alone.site
    assert (alone.name, same.name) == ("Inverter (invented)", "cellar")
    assert not other.several_inverters
    assert other.single_inverter == one.single_inverter == one.inverter
    assert [other.input_name(each) for each in other.wirings[0].trackers] == ["A", "B"]


def test_each_of_several_inverters_sees_its_own_inputs_strings_and_place():
    hall, annex = TWO.each_inverter()
    assert (hall.name, annex.name) == ("hall", "annex")
    assert hall.site.single_inverter.name == "Hall inverter 25 kW (invented)"
    assert annex.site.inverter_place.surroundings == "outdoors-shaded"
    assert annex.lead.length_m == 38
    assert annex.reactive.kind == "q-of-u"
    assert [len(each.trackers) for each in annex.site.wirings] == [2, 1]
    assert all(each.inverter == "hall" for each in hall.site.wirings[0].trackers)
    names = [TWO.input_name(each) for each in TWO.wirings[1].trackers]
    assert names == ["hall / MPPT 1", "hall / MPPT 2", "annex / MPPT 1"]
    with pytest.raises(TypeError, match="a site of 2 inverters, where one is asked for"):
        _ = TWO.single_inverter
    assert "2 inverters: hall, inputs MPPT 1, MPPT 2" in " ".join(str(TWO).split())


def test_an_idle_inverter_has_an_empty_wiring():
    alone = TWO.wirings[0].on("elsewhere")
    assert alone.trackers == ()


KIND = TWO.inverter_types[0].model_dump()
EXPORTS = {**KIND, "ac": {**KIND["ac"], "export_limit_w": 9000.0}}
SINGLE = {**KIND, "ac": {**KIND["ac"], "phases": 1}}
LOWER = {**KIND, "ac": {**KIND["ac"], "nominal_voltage_v": 120.0}}
REFUSED = {
    "both": (
        mapping() | {"inverters": [{"name": "a", "type": "b"}]},
        "inverters: got inverter and inverters; expected one of the two. Take the inverter's",
    ),
    "none in version 1": (
        {key: value for key, value in mapping().items() if key != "inverter"},
        "inverters: got no inverter; expected inverter: its description.",
    ),
    "none in version 2": (
        version_2(inverters=()),
        "inverters: got no inverter; expected inverters: a list of them.",
    ),
    "the other version's key": (
        version_2(inverter_place={"surroundings": "outdoors-shaded"}),
        "inverter_place: got inverter_place in schema_version 2; expected inverter_types and "
        "inverters. inverter_place belongs to schema_version: 1.",
    ),
    "a list of inverters in version 1": (
        version_2(schema_version=1),
        "inverters: got inverters in schema_version 1; expected inverter and inverter_place. "
        "inverters belongs to schema_version: 2.",
    ),
    "an unknown type": (
        two(inverters__hall__type="Hall inverter 25kW (invented)"),
        "inverters.0.type: got the inverter type 'Hall inverter 25kW (invented)'; expected one of "
        "'Hall inverter 25 kW (invented)', 'Annex inverter 8 kW (invented)'. Did you mean 'Hall",
    ),
    "a type where there are none": (
        version_2(inverter_types=()),
        "inverters.0.type: got the inverter type 'Inverter (invented)'; expected the name of an "
        "entry of inverter_types.",
    ),
    "a name twice": (
        two(inverters__annex__name="hall"),
        "inverters.1.name: got the name 'hall' again; expected a name of its own for each.",
    ),
    "a type's name twice": (
        two(inverter_types__1__name="Hall inverter 25 kW (invented)"),
        "inverter_types.1.name: got the name 'Hall inverter 25 kW (invented)' again; expected",
    ),
    "an unknown inverter": (
        two(wirings__0__trackers__0__inverter="hal"),
        "wirings.0.trackers.0.inverter: got the inverter 'hal'; expected one of 'hall', 'annex'. "
        "Did you mean 'hall'?",
    ),
    "an input without its inverter": (
        two(wirings__0__trackers__2__inverter=None),
        "wirings.0.trackers.2.inverter: got an input without its inverter; expected one of 'hall'",
    ),
    "an input of another inverter": (
        two(inverter_types__1__mppts__1__name="MPPT 9"),
        "wirings.0.trackers.3.mppt: got the MPPT input 'MPPT 2'; expected one of 'MPPT 1', 'MPP",
    ),
    "the same input twice": (
        two(wirings__0__trackers__3__mppt="MPPT 1"),
        "trackers.3.mppt: got 'MPPT 1' of inverter 'annex' again in wiring 'one roof per input'; "
        "expected each MPPT input once, with all its strings.",
    ),
    "other phases": (
        two(inverter_types__0=SINGLE),
        "inverters.1.type: got 3 phases beside an inverter with 1; expected inverters of the same "
        "phases and nominal voltage behind one connection point.",
    ),
    "another nominal voltage": (
        two(inverter_types__0=LOWER),
        "inverters.1.type: got 230 V nominal beside an inverter with 120; expected inverters of",
    ),
    "a limit in a type and at the meter": (
        two(inverter_types__0=EXPORTS),
        "inverter_types.0.ac.export_limit_w: got export_limit_w 9000 of an inverter and another "
        "at the meter; expected one limit, at the meter. Write it once, as grid: {export_limit_w",
    ),
    "a limit in one of several types": (
        two(inverter_types__0=EXPORTS, grid__export_limit_w=None),
        "inverter_types.0.ac.export_limit_w: got export_limit_w 9000 of an inverter; expected one",
    ),
    "points that don't rise": (
        two(inverters__hall__reactive__points=[[0.98, 0.4], [0.98, 0.0]]),
        "inverters.0.reactive.points: got the first numbers 0.98, 0.98; expected rising values",
    ),
    "too much reactive power": (
        two(inverters__hall__reactive__points=[[0.92, 1.4], [0.98, 0.0]]),
        "inverters.0.reactive.points.0.1: got 1.4; expected a number of at most 1.",
    ),
    "reactive power that rises": (
        two(inverters__hall__reactive__points=[[0.92, -0.4], [0.98, 0.0]]),
        "inverters.0.reactive.points: got reactive power that rises with the voltage; expected "
        "reactive power that falls or stays as the voltage rises. Absorbed power with a positive",
    ),
    "points of a fixed factor": (
        two(inverters__hall__reactive__kind="fixed"),
        "inverters.0.reactive.points: got points with kind fixed; expected none; the displacement",
    ),
    "a factor out of reach": (
        two(inverters__hall__reactive={"kind": "cos-phi-of-p", "points": [[0.5, 1.0], [1.0, 0.5]]}),
        "inverters.0.reactive.points: got displacement factors 1, 0.5; expected 0.8 to 1. The sig",
    ),
    "a negative load": (
        two(grid__load__hours_w=[-1.0] * 24),
        "grid.load.hours_w.0: got -1; expected a number of at least 0.",
    ),
    "a day of another length": (
        two(grid__load__hours_w=[500.0] * 23),
        "grid.load.hours_w: got 23 values; expected 24 values, one for each hour of a day.",
    ),
    "two loads": (
        two(grid__load_w=300.0),
        "grid.load_w: got load_w and load; expected one of the two for the load.",
    ),
    "a load without its file": (
        two(grid__load={"kind": "series"}),
        "grid.load.kind: got kind series without file; expected file: a table of consumption thro",
    ),
    "a constant load of nothing": (
        two(grid__load={"kind": "constant"}),
        "grid.load.kind: got kind constant without power_w; expected power_w: the consumption in ",
    ),
    "a day without its hours": (
        two(grid__load={"kind": "day"}),
        "grid.load.kind: got kind day without hours_w; expected hours_w: 24 values in watts, from",
    ),
    "a file that is not there": (
        two(grid__load={"kind": "series", "file": "load-of-nobody.csv"}),
        "grid.load.file: got 'load-of-nobody.csv', which is not there; expected a file that is",
    ),
    "another kind's key": (
        two(grid__load__kind="constant"),
        "grid.load.hours_w: got hours_w with kind constant; expected hours_w with kind day only.",
    ),
    "a zone of the load that is none": (
        two(grid__load={"kind": "series", "file": "x", "zone": "Nowhere"}),
        "grid.load.zone: got 'Nowhere'; expected",
    ),
    "a section nobody makes": (
        two(inverters__hall__lead__cross_section_mm2=11.0),
        "inverters.0.lead.cross_section_mm2: got 11 mm2; expected a nominal cross-section of copp",
    ),
    "a lead in centimetres": (
        two(inverters__hall__lead__length_m=4000.0),
        "inverters.0.lead.length_m: got 4000 m; expected 0 to 2000 m. In millimetres? Write 4.",
    ),
    "a type's numbers": (
        two(inverter_types__1__ac__nominal_power_w=8.0),
        "inverter_types.1.ac.nominal_power_w: got 8 W; expected the nominal power in watts. In ki",
    ),
    "a type's night power": (
        two(inverter_types__1__night_power_w=900.0),
        "inverter_types.1.night_power_w: got 900 W beside a nominal power of 8000 W; expected 0",
    ),
    "a network of another voltage": (
        two(grid__network_voltage__voltage_v=400.0),
        "grid.network_voltage.voltage_v: got 400 V in a network of nominally 230 V; expected the",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_is_told_in_one_sentence(name):
    content, wanted = REFUSED[name]
    found = said(content)
    assert any(wanted in each for each in found), found


@pytest.mark.parametrize("listed", [(), {"hall": {"type": "x"}}])
def test_where_no_inverter_is_listed_the_wirings_are_not_told_of_it(listed):
    found = said(two(inverters=listed))
    assert len(found) == 1, found
    assert found[0].split("inverters: got ")[1].startswith(("no inverter; ", "the keys hall; "))


def test_the_site_itself_is_sound():
    assert site_from_mapping(two()).inverters == TWO.inverters
    changes = {"inverters.annex.lead.length_m": 20.0, "grid.load.hours_w": LOAD}
    variant = TWO.variant(changes)
    assert variant.inverters[1].lead.length_m == 20
    assert variant.grid.load.hours_w[-1] == 623
    with pytest.raises(InputError, match="got the key 'anex'; expected one of 'hall', 'annex'"):
        TWO.variant({"inverters.anex.lead.length_m": 20.0})
