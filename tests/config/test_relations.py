"""Parts of a site file that contradict one another: every such message is read here."""

import pytest

from tests.config.small import TEXT, mapping, only_problem, refusal, sentence, with_changes
from yieldkit.base.errors import InputError
from yieldkit.config.site.files import read_site_text, site_from_mapping

PLANES = mapping()["planes"]
MPPTS = mapping()["inverter"]["mppts"]


def west(**more):
    """Return the small site whose west plane says more."""
    return with_changes(planes__west=PLANES[0] | more)


def led_out(sides=True, **more):
    """Return the small site whose west plane has a cable exit, and modules with sides or none."""
    known = {"length_m": 2.1, "width_m": 1.1} if sides else {}
    cable_exit = {"row": 0, "column": 0, "onward_m": 9.0}
    return with_changes(
        planes__west=PLANES[0] | {"layout": "portrait", "cable_exit": cable_exit} | more,
        module_types__M540=mapping()["module_types"][0] | known,
    )


def place(**more):
    """Return the small site whose place says more."""
    return with_changes(site=mapping()["site"] | more)


def ambient(low, high):
    """Return the small site with other design temperatures."""
    return with_changes(
        site__design_temperatures={"lowest_ambient_c": low, "highest_ambient_c": high}
    )


def first_input(**more):
    """Return the small site whose first input says more."""
    return with_changes(inverter__mppts__A=MPPTS[0] | more)


def ac(**more):
    """Return the small site whose AC side says more."""
    return with_changes(inverter__ac=mapping()["inverter"]["ac"] | more)


def weather(**more):
    """Return the small site with another weather source."""
    return with_changes(weather=mapping()["weather"] | more)


def grid(**network):
    """Return the small site with a network voltage."""
    return mapping() | {"grid": {"network_voltage": network}}


def pairs(*names):
    """Return the small site with a power limit shared by inputs."""
    limit = {"mppts": names, "max_power_w": 9000}
    return with_changes(inverter=mapping()["inverter"] | {"max_dc_power_pairs": (limit,)})


def placed(places, modules, others=(), drawing=("M" * 12, "M" * 12)):
    """Return the small site whose first string's modules have places on the west plane."""
    spots = [{"row": row, "column": column} for row, column in places]
    first = {"groups": [{"plane": "west", "modules": modules, "places": spots}]}
    more = [{"groups": [{"plane": plane, "modules": count}]} for plane, count in others]
    trackers = [{"mppt": "A", "strings": [first, *more]}]
    return west(drawing=drawing) | {"wirings": [{"name": "plain", "trackers": trackers}]}


def wired(*trackers):
    """Return the small site with one wiring: tracker's name and its strings of groups."""
    listed = [
        {
            "mppt": name,
            "strings": [
                {"groups": [{"plane": plane, "modules": count} for plane, count in string]}
                for string in strings
            ],
        }
        for name, *strings in trackers
    ]
    return mapping() | {"wirings": [{"name": "plain", "trackers": listed}]}


WEST, EAST = ("west", 12), ("east", 12)
CASES = {
    "plane's name twice": (
        mapping() | {"planes": [PLANES[0], PLANES[1], PLANES[1]]},
        "planes.2.name: got the name 'east' again; expected a name of its own for each.",
    ),
    "input's name twice": (
        with_changes(inverter__mppts=[MPPTS[0], MPPTS[1], MPPTS[0]]),
        "inverter.mppts.2.name: got the name 'A' again; expected a name of its own for each.",
    ),
    "wiring's name twice": (
        mapping() | {"wirings": mapping()["wirings"] * 2},
        "wirings.1.name: got the name 'plain' again",
    ),
    "module type's name twice": (
        mapping() | {"module_types": mapping()["module_types"] * 2},
        "module_types.1.name: got the name 'M540' again",
    ),
    "unknown module type": (
        west(module_type="M450"),
        "planes.0.module_type: got the module type 'M450'; expected 'M540'. Did you mean 'M540'?",
    ),
    "unknown plane": (
        wired(("A", [("wset", 12)]), ("B", [EAST])),
        "wirings.0.trackers.0.strings.0.groups.0.plane: got the plane 'wset'; expected one of "
        "'west', 'east'. Did you mean 'west'?",
    ),
    "unknown input": (
        wired(("A", [WEST]), ("MPPT 2", [EAST])),
        "wirings.0.trackers.1.mppt: got the MPPT input 'MPPT 2'; expected one of 'A', 'B'.",
    ),
    "unknown input of a pair": (
        pairs("A", "Q"),
        "inverter.max_dc_power_pairs.0.mppts.1: got the MPPT input 'Q'; expected one of 'A', 'B'",
    ),
    "one input for a pair": (
        pairs("A"),
        "inverter.max_dc_power_pairs.0.mppts: got a list of 1; expected at least 2 entries.",
    ),
    "input twice in a pair": (
        pairs("A", "A"),
        "inverter.max_dc_power_pairs.0.mppts: got an MPPT input twice; expected two or more",
    ),
    "string on two trackers": (
        wired(("A", [WEST], [WEST]), ("B", [WEST])),
        "wirings.0.trackers.1.strings.0: got a string of 12 modules on 'A' and again on 'B', so "
        "36 modules of plane 'west' wired in 'plain'; expected no more than the 24 it has. The "
        "same string listed on two trackers? Take it off one of them.",
    ),
    "too many modules": (
        wired(("A", [WEST], [("west", 14)]), ("B", [EAST])),
        "wirings.0.trackers.0.strings.1.groups.0.modules: got 26 modules of plane 'west' wired "
        "in 'plain'; expected no more than the 24 it has. Take 2 off, or correct the plane's "
        "number of modules.",
    ),
    "input listed twice": (
        wired(("A", [WEST]), ("A", [WEST])),
        "wirings.0.trackers.1.mppt: got 'A' again in wiring 'plain'; expected each MPPT input "
        "once, with all its strings. Put the strings of both entries under one.",
    ),
    "positions for other modules": (
        west(positions=[{"row": 0, "column": 0}]),
        "planes.0.positions: got 1 positions for 24 modules; expected one position for each "
        "module, or none. Correct the positions or the number of modules.",
    ),
    "places for other modules": (
        placed([(0, 0), (0, 1)], 12),
        "wirings.0.trackers.0.strings.0.groups.0.places: got 2 places for 12 modules; expected one "
        "place for each module. Correct the places or the number of modules.",
    ),
    "a place off the plane": (
        placed([(0, 0), (2, 1)], 2),
        "wirings.0.trackers.0.strings.0.groups.0.places.1: got row 2, column 1, where plane 'west' "
        "has no module; expected a place of one of its modules, counted from 0 at the lower left",
    ),
    "a place used twice": (
        placed([(0, 0), (0, 0)], 2),
        "wirings.0.trackers.0.strings.0.groups.0.places.1: got row 0, column 0 of plane 'west' "
        "again; expected each module in one string, once. Give one of the two another place.",
    ),
    "places of some strings only": (
        placed([(0, 0), (0, 1)], 2, [WEST]),
        "wirings.0.trackers.0.strings.1.groups.0: got modules without places, where others of "
        "plane 'west' have them; expected places for all modules of a plane that a wiring uses, or "
        "for none. Add places here, or leave them out of the plane's other strings.",
    ),
    "places on a plane without drawing": (
        placed([(0, 0), (0, 1)], 2, drawing=()),
        "wirings.0.trackers.0.strings.0.groups.0.places: got places on plane 'west', which doesn't "
        "say where its modules lie; expected a drawing or positions of the plane's modules. Draw "
        "plane 'west', or leave the places out.",
    ),
    "two modules at one place": (
        west(positions=[{"row": 0, "column": min(i, 22)} for i in range(24)]),
        "planes.0.positions: got 2 modules at row and column (0, 22); expected one module at a",
    ),
    "drawing of other modules": (
        west(drawing=["M" * 12, "M" * 11 + "."]),
        "planes.0.drawing: got 23 modules drawn, 24 on the plane; expected a drawing of every "
        "module of the plane, or none. Correct the drawing or the number of modules.",
    ),
    "a strange sign in a drawing": (
        west(drawing=["M" * 13, "MMMMMxMMMMMM."]),
        "planes.0.drawing.1: got the sign 'x' in 'MMMMMxMMMMMM.'; expected M for a module and . "
        "for none",
    ),
    "a drawing with rows of several lengths": (
        west(drawing=["M" * 10, "M" * 14]),
        "planes.0.drawing: got rows of 10 to 14 signs; expected rows of one length. Fill the "
        "shorter ones with . on the side where nothing lies.",
    ),
    "a drawing beside positions": (
        west(
            drawing=["M" * 24],
            positions=[{"row": 0, "column": column} for column in range(24)],
        ),
        "planes.0.drawing: got a drawing beside positions; expected one of the two. Leave one of "
        "them out.",
    ),
    "a cable exit of a plane without places": (
        led_out(),
        "planes.0.cable_exit: got a cable exit on a plane without its modules' places; expected a "
        "drawing or positions of the modules. Draw the plane, or leave cable_exit out and state "
        "cable lengths.",
    ),
    "a cable exit of a plane without layout": (
        led_out(drawing=["M" * 24], layout=None),
        "planes.0.cable_exit: got a cable exit on a plane without layout; expected layout: "
        "portrait or landscape, from which lengths follow",
    ),
    "a cable exit without the module's sides": (
        led_out(sides=False, drawing=["M" * 24]),
        "planes.0.cable_exit: got a cable exit, but no length_m and no width_m of module type "
        "'M540'; expected both sides of the module, from which lengths follow",
    ),
    "horizon twice": (
        west(horizon=[{"azimuth_deg": 90.0, "elevation_deg": e} for e in (5, 7)]),
        "planes.0.horizon.1.azimuth_deg: got the azimuth 90.0 again; expected one elevation for",
    ),
    "north twice in a horizon": (
        west(horizon=[{"azimuth_deg": a, "elevation_deg": 5.0} for a in (0.0, 90.0, 360.0)]),
        "planes.0.horizon.2.azimuth_deg: got the azimuth 360.0 again (0 and 360 are both north); "
        "expected one elevation for each azimuth",
    ),
    "a horizon out of order": (
        west(horizon=[{"azimuth_deg": a, "elevation_deg": 5.0} for a in (90.0, 270.0, 180.0)]),
        "planes.0.horizon.2.azimuth_deg: got the azimuth 180 after 270; expected azimuths in "
        "rising order, from north through east. Counted from south, or points of another list?",
    ),
    "a horizon overhead": (
        west(horizon=[{"azimuth_deg": 90.0, "elevation_deg": 90.0}]),
        "planes.0.horizon.0.elevation_deg: got 90; expected a number below 90",
    ),
    "a facade that lies": (
        west(mounting="facade", tilt_deg=10),
        "planes.0.tilt_deg: got a facade of 10 degrees from horizontal; expected 45 to 90 degrees "
        "from horizontal; a wall has 90. Counted from vertical? Write 80, or another mounting.",
    ),
    "a roof that stands": (
        west(mounting="roof-parallel", tilt_deg=80),
        "planes.0.tilt_deg: got a roof of 80 degrees; expected a roof's tilt, up to 75 degrees "
        "from horizontal. A pitch in percent? A pitch of 100 % is 45 degrees; for a wall write "
        "mounting: facade.",
    ),
    "window turned round": (
        first_input(mpp_voltage_min_v=850, mpp_voltage_max_v=160),
        "inverter.mppts.0.mpp_voltage_min_v: got mpp_voltage_min_v 850 above mpp_voltage_max_v "
        "160; expected the tracking window's lower end below its upper. Are the two swapped?",
    ),
    "window above the maximum": (
        first_input(mpp_voltage_max_v=1100),
        "got mpp_voltage_max_v 1100 above max_voltage_v 1000; expected a tracking window below",
    ),
    "stop above start": (
        first_input(stop_voltage_v=200),
        "got stop_voltage_v 200 above start_voltage_v 180; expected a stop voltage at or below",
    ),
    "start above the maximum": (
        first_input(start_voltage_v=1200, stop_voltage_v=150),
        "got start_voltage_v 1200 above max_voltage_v 1000; expected a start-up voltage below",
    ),
    "stop power above start power": (
        first_input(stop_power_w=40, start_power_w=30),
        "got stop_power_w 40 above start_power_w 30; expected a stop power at or below",
    ),
    "full-power window turned round": (
        first_input(full_power_voltage_min_v=700, full_power_voltage_max_v=300),
        "expected the full-power window's lower end below its upper. Are the two swapped?",
    ),
    "full-power window too low": (
        first_input(full_power_voltage_min_v=100),
        "got mpp_voltage_min_v 160 above full_power_voltage_min_v 100; expected a full-power "
        "window inside the tracking window.",
    ),
    "full-power window too high": (
        first_input(full_power_voltage_max_v=900),
        "got full_power_voltage_max_v 900 above mpp_voltage_max_v 850; expected a full-power "
        "window inside the tracking window.",
    ),
    "operating voltage above the maximum": (
        first_input(max_operating_voltage_v=1050),
        "got max_operating_voltage_v 1050 above max_voltage_v 1000; expected an operating volt",
    ),
    "operating current above the short-circuit rating": (
        first_input(max_input_current_a=50),
        "got max_input_current_a 50 above short_circuit_rating_a 40; expected an operating curr",
    ),
    "kilowatts": (
        ac(nominal_power_w=15),
        "inverter.ac.nominal_power_w: got 15 W; expected the nominal power in watts. In "
        "kilowatts? Write 15000.",
    ),
    "largest power below nominal": (
        ac(max_power_w=14000),
        "inverter.ac.max_power_w: got max_power_w 14000 below nominal_power_w 15000; expected at "
        "least the nominal power. Are the two swapped?",
    ),
    "a current of another model": (
        ac(max_current_a=7.2),
        "inverter.ac.max_current_a: got max_current_a 7.2, by which 3 x 230 V carry 4,968 W; "
        "expected about 21.7 A of each phase or more, for a nominal power of 15,000 W. The current "
        "of another model, or of other phases?",
    ),
    "apparent power below nominal": (
        ac(max_apparent_power_va=14000),
        "inverter.ac.max_apparent_power_va: got max_apparent_power_va 14000 below nominal_power_w",
    ),
    "voltage between phases": (
        ac(nominal_voltage_v=400),
        "inverter.ac.nominal_voltage_v: got 400 V with three phases; expected the voltage from "
        "phase to neutral. The voltage between phases? Write 231.",
    ),
    "loads that fall": (
        with_changes(inverter__efficiency__loads=[0.1, 1.0, 0.5]),
        "inverter.efficiency.loads: got 0.1, 1, 0.5; expected rising values, each once.",
    ),
    "a voltage twice": (
        with_changes(inverter__efficiency__voltages_v=[300, 300]),
        "inverter.efficiency.voltages_v: got 300, 300; expected rising values, each once.",
    ),
    "no loads": (
        with_changes(inverter__efficiency__loads=[], inverter__efficiency__values=[[], []]),
        "inverter.efficiency.loads: got no values; expected at least one value.",
    ),
    "rows missing": (
        with_changes(inverter__efficiency__voltages_v=[300, 600, 800]),
        "inverter.efficiency.values: got 2 rows for 3 voltages; expected one row for each volt",
    ),
    "values missing": (
        with_changes(inverter__efficiency__values__1=[0.9, 0.95]),
        "inverter.efficiency.values.1: got 2 values for 3 loads; expected one value for each load",
    ),
    "weighted above maximum": (
        with_changes(inverter__efficiency={"kind": "weighted", "european": 0.99, "maximum": 0.98}),
        "inverter.efficiency.european: got 0.99 above the maximum 0.98; expected a weighted "
        "efficiency at or below the maximum. Are the two swapped?",
    ),
    "derating that rises": (
        with_changes(inverter__derating__1__max_power_w=16000),
        "inverter.derating.1.max_power_w: got 16000 W at 60 degC above 15000 W at 45 degC; "
        "expected a power that doesn't rise with temperature. Are the two swapped?",
    ),
    "derating at one temperature twice": (
        with_changes(inverter__derating__1__temp_inlet_c=45),
        "got 45 degC again; expected each temperature once for a DC voltage.",
    ),
    "latitude and longitude swapped": (
        place(latitude=13.0, longitude=52.0),
        "site.time_zone: got zone UTC+01:00 at longitude 52; expected about UTC+03:00 there. "
        "Latitude and longitude swapped? Longitude is positive to the east, zones count hours "
        "ahead of UTC; where the clock really is that far off write unusual_time_zone: true.",
    ),
    "the embedded year's place swapped": (
        place(latitude=8.0, longitude=45.0),
        "got zone UTC+01:00 at longitude 45; expected about UTC+03:00 there. Latitude and long",
    ),
    "the sign of the zone": (
        place(time_zone="UTC-01:00"),
        "got zone UTC-01:00 at longitude 13; expected about UTC+01:00 there. The sign of the off",
    ),
    "a zone far away": (
        place(time_zone="UTC+09:00"),
        "got zone UTC+09:00 at longitude 13; expected about UTC+01:00 there. Longitude is",
    ),
    "no zone": (
        place(time_zone="summer"),
        "site.time_zone: got 'summer'; expected an offset such as 'UTC+01:00' or an IANA zone",
    ),
    "no zone of the weather": (
        weather(zone="MEZ+1"),
        "weather.zone: got 'MEZ+1'; expected an offset such as 'UTC+01:00' or an IANA zone",
    ),
    "ambient in Fahrenheit": (
        ambient(10, 97),
        "site.design_temperatures.highest_ambient_c: got 97 degC; expected -30 to 60 degC. In "
        "Fahrenheit? That would be 36.1 degC.",
    ),
    "ambient in kelvin": (
        ambient(256, None),
        "lowest_ambient_c: got 256 degC; expected -90 to 35 degC. In kelvin? That would be -17.1",
    ),
    "ambient turned round": (
        ambient(30, -10),
        "got 30 degC as the lowest, -10 degC as the highest ambient; expected the lowest below",
    ),
    "weather that is not there": (
        weather(file="typical-year-45n-9e"),
        "weather.file: got 'typical-year-45n-9e', which is not there; expected a file that is "
        "there, or the name of a data set: one of 'greensboro-tmy3', 'miami-tmy2', "
        "'sand-point-tmy3', 'typical-year-45n-8e'. Did you mean 'typical-year-45n-8e'?",
    ),
    "weather of an impossible name": (weather(file="a" * 999), "aaa...', which is not there; exp"),
    "a table without columns": (
        weather(format="csv", sampling="mean", label="end"),
        "weather.format: got format csv without columns; expected which column holds what. Write "
        "columns: {time: ..., ghi: ..., temp_air: ...} with the file's names; and zone: UTC+01:00",
    ),
    "a table without sampling": (
        weather(format="parquet", columns={"time": "t", "ghi": "g", "temp_air": "a"}),
        "got format parquet without sampling; expected sampling: mean (with label) or snapshot "
        "(with sun_offset_min). Half an hour of doubt moves an east plane by 5 % one way, a west",
    ),
    "means without a label": (
        weather(format="csv", sampling="mean", columns={"time": "t", "ghi": "g", "temp_air": "a"}),
        "weather.format: got means without a label; expected label: start, middle or end.",
    ),
    "a table without temperature": (
        weather(format="csv", sampling="mean", label="end", columns={"time": "t", "ghi": "g"}),
        "weather.columns: got columns without temp_air; expected a column of air temperature in",
    ),
    "one column for two quantities": (
        weather(
            format="csv",
            sampling="mean",
            label="end",
            columns={"time": "t", "ghi": "g", "dhi": "g", "temp_air": "a"},
        ),
        "weather.columns: got column 'g' for ghi and dhi; expected a column of its own for each",
    ),
    "a folder for weather": (weather(file="/"), "weather.file: got '/', which is a folder; exp"),
    "a device for weather": (weather(file="/dev/null"), "'/dev/null', which is a device; expected"),
    "an offset with means": (
        weather(sampling="mean", sun_offset_min=11),
        "weather.sun_offset_min: got sun_offset_min 11 with sampling mean; expected an offset "
        "with snapshots only. Leave it out, or write sampling: snapshot.",
    ),
    "a series by a clock of no zone": (
        grid(kind="series", file=__file__, zone="Mars"),
        "grid.network_voltage.zone: got 'Mars'; expected an offset such as 'UTC+01:00' or an IANA",
    ),
    "a series without a file": (
        grid(kind="series"),
        "grid.network_voltage.kind: got a measured series without its file; expected file: the",
    ),
    "a series that is not there": (
        grid(kind="series", file="volts.csv"),
        "grid.network_voltage.file: got 'volts.csv', which is not there; expected a file that is "
        "there. Paths count from the site file's folder.",
    ),
    "network voltage between phases": (
        grid(voltage_v=400),
        "grid.network_voltage.voltage_v: got 400 V in a network of nominally 230 V; expected the "
        "voltage from phase to neutral, within 30 % of the nominal voltage. The voltage between",
    ),
    "network voltage far off": (
        grid(voltage_v=24),
        "got 24 V in a network of nominally 230 V; expected the voltage from phase to neutral",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_parts_that_contradict_are_told(name):
    content, wanted = CASES[name]
    assert wanted in sentence(content)


@pytest.mark.parametrize(
    "content",
    [
        place(time_zone="UTC+08:00", longitude=76.0, latitude=39.0, unusual_time_zone=True),
        place(time_zone="UTC+08:00", longitude=87.6, latitude=43.8),
        place(time_zone="UTC+01:00", longitude=-8.5, latitude=43.0),
        place(time_zone="UTC-03:00", longitude=-72.3, latitude=-50.3),
        place(time_zone="UTC+13:00", longitude=-175.0, latitude=-21.0),
        place(time_zone="UTC-09:00", longitude=-168.0, latitude=65.0),
        place(time_zone="UTC+00:00", longitude=-24.0, latitude=65.0),
        place(time_zone="Europe/Berlin"),
        ac(nominal_voltage_v=277),
        west(mounting="roof-parallel", tilt_deg=70),
        west(tilt_deg=0),
        west(azimuth_deg=360),
        first_input(stop_voltage_v=180, mpp_voltage_max_v=1000),
        first_input(full_power_voltage_min_v=160, full_power_voltage_max_v=850),
        wired(("A", [("west", 6), ("east", 6)])),
        wired(("A", [("west", 6), ("west", 6)])),
        wired(("B", [WEST], [WEST])),
    ],
)
def test_what_is_unusual_but_sound_is_taken(content):
    assert site_from_mapping(content).site.name == "Shed (invented)"


def test_lines_of_relations_are_those_of_the_culprit():
    text = TEXT.replace("{plane: east, modules: 12}", "{plane: west, modules: 12}")
    told = only_problem(text)
    assert told.where == "site file line 65, wirings.0.trackers.1.strings.0"
    assert told.got.startswith("a string of 12 modules on 'A' and again on 'B'")
    twice = TEXT.replace("- mppt: B", "- mppt: A")
    assert "got 'A' again in wiring 'plain', first in line 59" in sentence(twice)


def test_relations_are_told_though_every_section_has_a_wrong_field():
    text = (
        TEXT.replace("latitude: 52.0", "latitude: x")
        .replace("p_max_w: 540", "p_max_w: x")
        .replace("tilt_deg: 30", "tilt_deg: x")
        .replace("connectors: 2", "connectors: x")
        .replace("module_type: M540", "module_type: M54")
        .replace("start_voltage_v: 180", "start_voltage_v: 1800")
        .replace("- groups: [{plane: east", "- groups: [{plane: eats")
        .replace("time_zone: UTC+01:00", "time_zone: UTC+01:99")
    )
    wheres = [each.where.split(", ")[1] for each in refusal(text).problems]
    assert wheres == [
        "site.latitude",
        "module_types.0.p_max_w",
        "planes.0.tilt_deg",
        "planes.1.tilt_deg",
        "inverter.mppts.0.connectors",
        "planes.0.module_type",
        "planes.1.module_type",
        "wirings.0.trackers.1.strings.0.groups.0.plane",
        "inverter.mppts.0.start_voltage_v",
        "inverter.mppts.1.start_voltage_v",
        "site.time_zone",
    ]


def test_a_weather_file_beside_the_site_file_is_found(tmp_path):
    (tmp_path / "my weather.csv").write_text("x", encoding="utf-8")
    text = TEXT.replace("file: typical-year-45n-8e", "file: my weather.csv")
    assert read_site_text(text, folder=str(tmp_path)).weather.file == "my weather.csv"
    missing = text.replace("my weather.csv", "my wether.csv")
    with pytest.raises(InputError, match=r"'my wether.csv', .* Did you mean 'my weather.csv'\?"):
        read_site_text(missing, folder=str(tmp_path))
