"""The handover's page: cautions first, every string with its plan and blanks, on any screen."""

import csv
import html
import io
import json
import re
from datetime import date

import pytest

import yieldkit
from tests.report.browser import in_browser, print_pdf
from tests.report.hostile import chunks, hostile_site
from tests.report.pages import handover_in_process, seen
from tests.report.test_hostile_names import ATTRIBUTES, TAGS
from tests.report.test_paper import pages_of
from yieldkit.base.shipped import shipped
from yieldkit.config.site.files import site_from_mapping
from yieldkit.report.figures.picture import Picture
from yieldkit.report.tables.handover_strings import string_cards
from yieldkit.study.handover.handover import handover
from yieldkit.study.results.handover import save_handover

pytestmark = pytest.mark.slow

OWN_TAGS = re.compile(rf"{TAGS.pattern}|h3|section|span")
PHONE = (390, 844)


def page_of(site):
    with pytest.MonkeyPatch.context() as patch:
        return handover_in_process(patch, site, handover(site))


@pytest.fixture(scope="module")
def two():
    """Return a site of two inverters."""
    return yieldkit.load_site(shipped("site_configs", "two_inverters.yaml"))


@pytest.fixture(scope="module")
def page(site):
    return page_of(site)


@pytest.fixture(scope="module")
def page_of_two(two):
    return page_of(two)


def text_of(page):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page.split("</style>")[1])).split())


def test_cautions_stand_before_everything_else(page):
    text = text_of(page)
    places = [
        text.index(words)
        for words in (
            "Handover: Long barn",
            "a design aid and not a certificate",
            "Live in daylight.",
            "DC arcs don't go out.",
            "Wiring: one plane per tracker",
            "Order of tests Before anything",
            "1: MPPT 1, string 1",
        )
    ]
    assert places == sorted(places)
    for words in ("local code", "makers' manuals", "licensed people", "A design aid, not a"):
        assert words in text


def test_polarity_comes_before_all_else_that_is_done_to_a_string(page):
    text = text_of(page).split("Order of tests Before anything")[1]
    places = [
        text.index(words)
        for words in (
            "no two strings are joined",
            "Polarity of every string",
            "Open-circuit voltage of every string",
            "only with a shorting device made for the string's voltage and current",
            "Insulation of every string",
            "plugged into the inputs of the terminal plan",
            "DC isolator on",
            "then AC on",
        )
    ]
    assert places == sorted(places)
    assert "nothing is plugged in or joined until it is right" in text
    assert "20.6 kWp, more than 10: it is tested in parts" in text
    assert "(larger arrays are tested in parts) (from memory)" in text


def test_every_step_start_up_value_and_paper_has_a_box_to_tick(page, site):
    sheet = handover(site)
    steps = sum(len(part.steps) for part in sheet.order)
    own = sheet.inverters[0]
    lists = steps + len(sheet.documents) + len(own.set_up) + len(own.isolation) + len(own.place)
    polarity = 2 * len(sheet.strings)
    assert page.count('<span class="tick">') == lists + polarity


def test_date_clock_and_instruments_have_blanks(page):
    text = text_of(page)
    assert (
        "Write times by the clock of UTC+01:00, the same all year: 12:10 here is 11:10 UTC." in text
    )
    for words in (
        "Tested by",
        "Date",
        "Serial number",
        "Calibrated on",
        "Stated error",
        "Time, UTC+01:00",
    ):
        assert words in text


def test_what_is_read_without_a_meter_has_blanks_by_plane(page):
    section = page[
        page.index("read without a meter</h2>") : page.index("Where the strings lie</h2>")
    ]
    assert "<p>None of this touches a live part" in section
    assert "Go onto a roof only if secured against falling." in section
    text = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", section)).split())
    assert "The sheet's clock Ahead of a clock that is right min" in text
    lie = "Tilt, drawn {} ° Azimuth, drawn {} ° Light, first sensor W/m² Light, second sensor W/m²"
    for plane, tilt, azimuth in (
        ("west roof", 28, 265),
        ("east roof", 28, 85),
        ("dormer", 55, 175),
    ):
        assert f"Plane {plane} {lie.format(tilt, azimuth)}" in text


def test_the_card_of_a_string_says_all_that_is_needed_at_it(site):
    sheet = handover(site)
    first, *_, last = text_of("</style>" + string_cards(sheet, sheet.inverters[0]).text).split(
        "Polarity"
    )
    for words in ("14 west roof", "tilt 28°, azimuth 265° (west)", "MPPT 1, pair 1 of 2"):
        assert words in first
    for words in ("24 m one way, 4 mm² copper", "Fuse none needed", "618 V, in the cold"):
        assert words in first
    assert "right REVERSED: stop" in last
    assert "Insulation at 500 V, plus to earth" in last
    assert "Plus and minus together at least 1 MΩ." in last


def test_a_string_that_stands_no_insulation_test_says_so_and_has_no_blank(site):
    content = site.model_dump(mode="json")
    content["module_types"][0]["max_system_voltage_v"] = 800.0
    content["site"]["design_temperatures"]["lowest_ambient_c"] = 10.0
    sheet = handover(site_from_mapping(content, "site", site.folder))
    text = text_of("</style>" + string_cards(sheet, sheet.inverters[0]).text)
    assert text.count("NO INSULATION TEST: Don't test this string at 1000 V") == 3
    assert text.count("Insulation at") == 1


def test_what_the_site_file_lacks_is_not_stated(two):
    content = two.model_dump(mode="json")
    content["grid"]["profile"] = None
    content["grid"]["export_limit_w"] = None
    content["inverters"][0]["lead"] = None
    for each in content["inverter_types"]:
        each["dc_isolator"] = None
        each["ac"]["max_apparent_power_va"] = None
    sheet = handover(site_from_mapping(content, "site", two.folder))
    entries = {each.what: each.value for each in sheet.inverters[0].set_up}
    assert entries["largest apparent power"] == "not stated in the site file"
    assert entries["network rules"] == "not stated in the site file"
    assert entries["highest voltage, 10-minute mean"] == "not stated in the site file"
    assert entries["export limit at the meter"] == "not stated in the site file: none is assumed"
    isolation = " ".join(sheet.inverters[0].isolation)
    assert "DC isolator: not stated in the site file." in isolation
    assert "AC side: lead not stated in the site file." in isolation


def test_several_inverters_are_grouped(page_of_two, two):
    text = text_of(page_of_two)
    hall, annex = text.split("Inverter hall")[-1].split("Inverter annex")
    assert [hall.count(f"{number}: hall / MPPT") for number in (1, 2, 3, 4, 5)] == [1, 1, 1, 1, 0]
    assert [annex.count(f"{number}: annex / MPPT") for number in (5, 6)] == [1, 1]
    assert "export limit at the meter: 18,000 W, shared in proportion" in annex
    assert "reactive power: by the voltage (0.92: +0.44; 0.98: +0; 1.02: +0; 1.08: -0.44)" in hall
    assert "Terminal plan: Annex inverter 8 kW (invented), 9.46 kWp" in annex


def test_walls_are_drawn_whole_with_their_words(page_of_two):
    walls = page_of_two.split('<div class="whole">')[1].split("</div>")[0]
    assert walls.count("<img") == walls.count('alt="Wall of ') == 2
    assert "manual prevails" in walls


def test_hours_of_a_cloudless_day_are_listed_where_they_were_asked_for(two, page_of_two):
    assert "Without a light sensor" not in page_of_two
    sheet = handover(two, day=date(2026, 6, 21), temp_air=26.0)
    with pytest.MonkeyPatch.context() as patch:
        text = text_of(handover_in_process(patch, two, sheet))
    assert text.count("Without a light sensor: a cloudless sky on 2026-06-21, air at 26 °C") == 2
    hour = sheet.strings[0].cloudless[3]
    shown = f"{hour.clock} {hour.poa_global:.0f} {hour.v_oc_low:.0f} {hour.v_oc_high:.0f}"
    assert "1: hall / MPPT 1, string 1: Voc and Isc time W/m² V from to A from to" in text
    assert f"{shown} {hour.i_sc_low:.1f} {hour.i_sc_high:.1f}" in text


def measured(page):
    """Return the page's width on a phone and the height of every card."""
    free = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    frame = (
        f"<iframe id=f width={PHONE[0]} height={PHONE[1]} style='border:0' "
        f'srcdoc="{html.escape(free)}"></iframe>'
        "<script>onload=()=>{const d=document.getElementById('f').contentDocument;"
        "const cards=[...d.querySelectorAll('.card')].map(c=>c.getBoundingClientRect().height);"
        "document.title=JSON.stringify([d.documentElement.scrollWidth,cards])}</script>"
    )
    shown = in_browser(f"<!DOCTYPE html><title>no</title>{frame}", "--dump-dom")
    return json.loads(re.search(r"<title>(.*?)</title>", shown)[1])


def test_on_a_phone_every_string_fits_a_screen_and_nothing_is_wider(page_of_two):
    width, cards = measured(page_of_two)
    assert width <= PHONE[0]
    assert len(cards) == 6
    assert max(cards) <= PHONE[1]


def test_paper_keeps_every_card_on_one_page(page_of_two, tmp_path):
    (tmp_path / "sheet.html").write_text(page_of_two, encoding="utf-8")
    print_pdf(tmp_path / "sheet.html", tmp_path / "sheet.pdf")
    pages = pages_of(tmp_path / "sheet.pdf")
    assert len(pages) <= 11
    assert "Live in daylight." in pages[0]
    names = ("hall / MPPT 1, string 1", "hall / MPPT 2, string 2", "annex / MPPT 2, string 1")
    for name in names:
        with_card = [text for text in pages if f": {name}" in text]
        assert len(with_card) == 1
        after = with_card[0].split(f": {name}")[1]
        assert "together at least 1 M" in after


@pytest.fixture(scope="module")
def hostile(site):
    """Return a sheet and its page for every bundle of hostile names, without pictures' points."""
    found = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Picture, "strips", lambda self: [b""])
        for name in chunks():
            own = hostile_site(site, name)
            sheet = handover(own)
            found.append((name, sheet, handover_in_process(patch, own, sheet)))
    return found


def test_names_that_would_do_harm_stay_text(hostile):
    for name, sheet, page in hostile:
        parsed = seen(page)
        assert {tag for tag, _ in parsed.tags if not OWN_TAGS.fullmatch(tag)} == set()
        attributes = {key for _, attrs in parsed.tags for key in attrs}
        assert {key for key in attributes if not ATTRIBUTES.fullmatch(key)} == set()
        text = "".join(parsed.texts)
        assert f"Handover: {name}" in text
        assert f"Wiring: {sheet.wiring}" in text
        assert all(f"{each.number}: {each.name}" in text for each in sheet.strings)
        assert len(parsed.all("h1")) == 1


def test_nothing_runs_in_a_browser_even_without_the_policy(hostile):
    bodies = [page.split("<body>")[1].split("</body>")[0] for _, _, page in hostile]
    whole = f"<!DOCTYPE html><title>calm</title>{''.join(bodies)}"
    shown = in_browser(whole, "--dump-dom", "--virtual-time-budget=2000")
    assert "<title>calm</title>" in shown
    assert shown.count("<footer>") == len(hostile)


def test_the_table_to_fill_in_holds_no_formula(hostile, tmp_path):
    for _, sheet, _ in hostile:
        save_handover(sheet, tmp_path)
        text = (tmp_path / "handover.csv").read_text(encoding="utf-8-sig")
        cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
        assert not any(cell.lstrip().startswith(("=", "+", "-", "@")) for cell in cells)
