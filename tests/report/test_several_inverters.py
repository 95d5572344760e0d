"""What pages show of several inverters: each named in full or cut so that it stays itself."""

import re

import pytest
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from tests.study.several import twice
from yieldkit import report
from yieldkit.config.site.files import site_from_mapping
from yieldkit.report.figures.fonts import inches
from yieldkit.report.figures.picture import SMALL, fitted_input
from yieldkit.study.comparison.compare import compare

pytestmark = pytest.mark.slow

LONG = "old barn beside the northern orchard, ground floor, $5 and $6"
WALL = {"width_m": 2.7, "height_m": 2.2}
LOAD = {"kind": "constant", "power_w": 700.0}


@pytest.fixture(scope="module")
def shared():
    """Return a site of two inverters, one with a long name, on one wall that is too small."""
    cases = {"north": (0.8, 0.7), "south": (0.45, 0.5)}
    places = {
        name: {
            "place": {
                "surroundings": "indoors-ventilated",
                "wall": WALL | {"case_width_m": width, "case_height_m": height},
            }
        }
        for name, (width, height) in cases.items()
    }
    common = {"length_m": 20, "cross_section_mm2": 25, "installation_method": "C"}
    content = twice({"load": LOAD, "load_w": 0.0, "lead": common}, **places).model_dump(
        exclude={"folder"}
    )
    content["inverters"][0]["name"] = LONG
    for wiring in content["wirings"]:
        for tracker in wiring["trackers"]:
            if tracker["inverter"] == "north":
                tracker["inverter"] = LONG
    return site_from_mapping(content)


@pytest.fixture(scope="module")
def found(shared, june):
    return compare(shared, june)


def drawn(picture):
    """Return a picture's figure, its texts and what draws them."""
    picture.png()
    figure = picture.figure
    texts = [each for each in figure.findobj(lambda part: isinstance(part, Text)) if str(each)]
    return figure, [text for text in texts if text.get_text()], figure.canvas.get_renderer()


def words(table):
    """Return a table's words without marks."""
    return " ".join(re.sub(r"<[^>]*>", " ", table.text).split())


def test_each_inverter_has_its_box_and_its_name_above_it(shared):
    figure, texts, renderer = drawn(report.strings_picture(shared, shared.wirings[0]))
    said = [text.get_text().replace(r"\$", "$") for text in texts]
    assert said.count("AC") == 2
    assert said.count(LONG) == said.count("south") == 1
    assert "inverter" not in said
    boxes = [part for part in figure.findobj(Rectangle) if part.get_width() == pytest.approx(0.4)]
    assert len(boxes) == 2
    upper, lower = (box.get_window_extent(renderer) for box in boxes)
    assert upper.y0 > lower.y1
    tops = {text.get_text()[:5]: text.get_window_extent(renderer) for text in texts}
    for start, box in ((LONG[:5], upper), ("south", lower)):
        assert tops[start].y0 >= box.y1, "the name stands above its box"
        assert tops[start].y0 - box.y1 < 0.2 * figure.dpi
        assert tops[start].x0 > 0.0
        assert tops[start].x1 <= box.x1 + 1.0
    assert tops["south"].y1 <= upper.y0, "and below the other's"


def test_one_inverter_stays_as_it_was_drawn(site):
    _, texts, _ = drawn(report.strings_picture(site, site.wirings[0]))
    said = [text.get_text() for text in texts]
    assert said.count("inverter") == 1
    assert "AC" not in said


def test_who_has_no_room_on_the_wall_is_told(shared):
    (picture,) = report.wall_pictures(shared)
    assert "On the wall: 1 of 2 inverters fit; no room for south. Clearances" in picture.caption
    assert "south: no room." in picture.alt
    assert f"{LONG}: centre 0.90 m from the left" in picture.alt


def test_a_long_name_stays_inside_its_case(shared):
    (picture,) = report.wall_pictures(shared)
    figure, texts, renderer = drawn(picture)
    case = next(part for part in figure.findobj(Rectangle) if part.get_hatch() == "//")
    box = case.get_window_extent(renderer)
    (name,) = [text for text in texts if text.get_text().startswith("old")]
    assert "\n" in name.get_text()
    extent = name.get_window_extent(renderer)
    assert box.x0 <= extent.x0
    assert extent.x1 <= box.x1
    assert " ".join(name.get_text().split()) == LONG.replace("$", r"\$")


def test_an_inputs_title_keeps_the_inputs_own_name(found):
    wiring = found.site.wirings[0].name
    picture = report.operating_points_picture(found, wiring)
    titles = [axes.get_title(loc="left") for axes in picture.figure.axes]
    titles = [title for title in titles if title]
    assert len(titles) == len(set(titles)) == 6
    assert [title.rpartition(" / ")[2] for title in titles] == [f"MPPT {k}" for k in (1, 2, 3)] * 2
    assert all("…" in title for title in titles[:3])
    for title in titles[3:]:
        assert title.startswith("south / MPPT ")
    for number in (1, 2, 3):
        assert f"{LONG} / MPPT {number}: " in picture.alt
        assert f"south / MPPT {number}: " in picture.alt


def test_an_input_is_cut_at_its_inverter():
    wide = inches("north / MPPT 1", SMALL)
    assert fitted_input("north / MPPT 1", wide + 0.01) == "north / MPPT 1"
    cut = fitted_input("northern barn / MPPT 1", wide)
    assert cut.startswith("nor")
    assert cut.endswith("… / MPPT 1")
    assert inches(cut, SMALL) <= wide
    assert fitted_input("M" * 50, 0.5).endswith("…"), "one inverter's inputs are cut at their end"
    assert fitted_input("a / " + "M" * 50, 0.5).endswith("…")


def test_every_lead_has_its_table(found):
    table = report.lead_table(found, found.details())
    said = words(table)
    for lead in (f"AC lead of {LONG} of", "AC lead of south of", "common AC lead of 20 m"):
        assert lead in said, lead
    assert said.count("heat of all leads, kWh") == 3
    assert said.count("as drawn") == 3
    cells = re.findall(r"<td[^>]*>([^<]*)</td>", table.text)
    assert not {"-0", "−0", "+nan", "nan"} & set(cells)
    assert "+0" in cells


def test_the_meters_table_has_what_passes_it(found):
    said = words(report.meter_table(found))
    result = found.result(found.site.wirings[0].name)
    attrs = result.attrs
    row = " ".join(
        f"{attrs[key]:,.0f}" for key in ("load_kwh", "self_use_kwh", "export_kwh", "import_kwh")
    )
    assert f"{found.site.wirings[0].name} {row}" in said
    assert attrs["load_kwh"] == pytest.approx(3 * 24 * 0.7)
