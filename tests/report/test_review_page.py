"""The first year's page: no figure without its span, harmless whatever names are, on any screen."""

import csv
import html
import io
import json
import re

import numpy as np
import pytest

import yieldkit
from tests.report.browser import in_browser
from tests.report.hostile import chunks, hostile_site
from tests.report.pages import review_in_process, seen
from tests.report.reviews import MONTHS, invented_review
from tests.report.test_hostile_names import ATTRIBUTES, TAGS
from yieldkit.base.errors import InputError
from yieldkit.base.shipped import shipped
from yieldkit.report.figures.picture import Picture
from yieldkit.report.figures.review import review_hours_picture, review_months_picture
from yieldkit.report.tables.review_cells import ratio, span, when
from yieldkit.report.tables.terminal_review import review_text
from yieldkit.study.logs.plant_log import COUNTED
from yieldkit.study.results.review import save_review, saved_review
from yieldkit.study.review.result import Span

pytestmark = pytest.mark.slow

BANDED = re.compile(r"\d\.\d{2,3} \(\d\.\d{2,3} to \d\.\d{2,3}\)")


@pytest.fixture(scope="module")
def two():
    """Return a site of two inverters."""
    return yieldkit.load_site(shipped("site_configs", "two_inverters.yaml"))


@pytest.fixture(scope="module")
def found(site):
    return invented_review(site, site.wirings[0])


def page_of(site, found, pictures=False):
    with pytest.MonkeyPatch.context() as patch:
        if not pictures:
            patch.setattr(Picture, "strips", lambda self: [b""])
        return review_in_process(patch, site, found)


@pytest.fixture(scope="module")
def page(site, found):
    return page_of(site, found, pictures=True)


def text_of(page):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page.split("</style>")[1])).split())


def test_the_answer_stands_first_then_cautions_then_what_to_look_at(page):
    text = text_of(page)
    places = [
        text.index(words)
        for words in (
            "Does it do what it should? Long barn",
            "MPPT 3 gives 22 % less from 16 to 18 h, from April to August: a shadow.",
            "Look for what stands in the west of its modules at that hour.",
            "a design aid and not a certificate",
            "Live in daylight.",
            "what it looks like",
            "2026-04 to 2026-08 (5), 16 to 18 h",
            "Month by month, at the inverters' AC side",
            "Measured over expected energy of each input and inverter",
            "Measured over expected energy by the hour of the day",
            "Powers at which the log goes flat",
            "0.302 ohm (0.290 to 0.314)",
            "One loss taken off everything expected",
            "All hours of the log",
            "Bands: 3 % sensor",
        )
    ]
    assert places == sorted(places)
    assert "9,052 kWh at the inverters' AC side of 9,137 kWh expected" in text
    assert "94 % of the daylight's hours count." in text
    assert "Rows from 2026-03-29 02:00 were missing: 60 minutes." in text


def test_every_ratio_has_its_band(page, found):
    cells = [
        html.unescape(cell)
        for cell in re.findall(r"<td[^>]*>([^<]*)</td>", page)
        if re.match(r"[01]\.\d\d", cell) and "ohm" not in cell
    ]
    inputs, months = found.data.sizes["tracker"], len(MONTHS)
    lit = int(np.isfinite(found.data["hour_ratio"].to_numpy()[:, 0]).sum())
    pairs = inputs * (inputs - 1) // 2
    # PR, PR'STC and the ratio of each month; inputs and inverter; hours; pairs of inputs.
    assert len(cells) == 3 * months + (inputs + 1) * months + inputs + inputs * lit + pairs
    assert all(BANDED.match(cell) for cell in cells)


def test_what_lies_outside_its_band_is_marked():
    assert ratio(0.9, 0.94, 1.06) == "0.90 (0.94 to 1.06) BELOW"
    assert ratio(1.1, 0.94, 1.06) == "1.10 (0.94 to 1.06) ABOVE"
    assert ratio(1.0, 0.94, 1.06) == "1.00 (0.94 to 1.06)"
    assert ratio(1.0, np.nan, np.nan) == "1.00 (no band)"
    assert ratio(np.nan, 0.94, 1.06) == "-"
    assert span(Span(np.nan, 0.0, 1.0), "%") == "-"


def test_hours_and_months_of_a_sign_are_told(found):
    sign = found.signs[0]
    assert when(sign) == "2026-04 to 2026-08 (5), 16 to 18 h"
    assert (
        when(sign._replace(hours=(7, 8, 16), months=("2026-05",)))
        == "2026-05, 7 to 9 h, 16 to 17 h"
    )
    assert when(sign._replace(hours=(), months=())) == "all months, all day"


def test_pictures_say_their_figures_in_words(found):
    months, hours = review_months_picture(found).alt, review_hours_picture(found).alt
    row = found.months.iloc[0]
    assert f"2026-01 {row['measured_kwh']:,.0f} of {row['expected_kwh']:,.0f} kWh" in months
    assert "MPPT 3: 6 h " in hours
    assert "16 h 0.83" in hours


def test_without_ac_power_the_inputs_are_told(site):
    found = invented_review(site, site.wirings[0], ac=False)
    text = text_of(page_of(site, found))
    assert "of the inputs, for no AC power is written" in text
    assert "nothing is said of the AC lead" in text
    assert "kWh of the inputs of" in review_text(found)


def test_an_input_that_never_counts_is_not_checked(site, found):
    hours = found.data["hours"].copy()
    hours.loc[{"tracker": "MPPT 2", "reason": COUNTED}] = 0.0
    other = invented_review(site, site.wirings[0], signs=())
    other = type(other)(other.site, other.wiring, other.log, other.data.assign(hours=hours))
    assert other.unread == ("MPPT 2",)
    assert "NOT CHECKED, for no step of them counts: MPPT 2." in text_of(page_of(site, other))
    assert "NOT CHECKED, for no step of them counts: MPPT 2." in " ".join(
        review_text(other, 60).split()
    )


def test_several_inverters_have_their_own_marks(two):
    found = invented_review(two, two.wirings[0])
    text = text_of(page_of(two, found))
    for name in ("hall, AC", "annex, AC", "hall / MPPT 1, DC", "annex / MPPT 2, DC"):
        assert name in text


def test_a_saved_review_is_the_same_and_bound_to_its_site(site, two, found, tmp_path):
    save_review(found, tmp_path)
    again = saved_review(tmp_path, site)
    for own in ("signs", "plateaus", "resistances", "losses", "rests_on", "remarks"):
        assert str(getattr(again, own)) == str(getattr(found, own))  # nan equals nothing
    assert review_text(again) == review_text(found)
    with pytest.raises(InputError, match="results of another site"):
        saved_review(tmp_path, two)
    content = json.loads((tmp_path / "review.json").read_text())
    assert content["signs"][2]["deviations"] is None
    assert content["months"][0]["measured_kwh"] == pytest.approx(found.months.iloc[0, 0])


def test_on_a_phone_nothing_is_wider(page):
    free = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    frame = (
        f"<iframe id=f width=390 height=844 style='border:0' srcdoc=\"{html.escape(free)}\">"
        "</iframe><script>onload=()=>{document.title="
        "document.getElementById('f').contentDocument.documentElement.scrollWidth}</script>"
    )
    shown = in_browser(f"<!DOCTYPE html><title>no</title>{frame}", "--dump-dom")
    assert int(re.search(r"<title>(.*?)</title>", shown)[1]) <= 390


def test_names_that_would_do_harm_stay_text(site, tmp_path):
    for name in chunks():
        own = hostile_site(site, name)
        found = invented_review(own, own.wirings[0], log=name)
        parsed = seen(page_of(own, found))
        assert {tag for tag, _ in parsed.tags if not TAGS.fullmatch(tag)} == set()
        attributes = {key for _, attrs in parsed.tags for key in attrs}
        assert {key for key in attributes if not ATTRIBUTES.fullmatch(key)} == set()
        assert len(parsed.all("h1")) == 1
        save_review(found, tmp_path)
        for table in tmp_path.glob("*.csv"):
            rows = csv.reader(io.StringIO(table.read_text(encoding="utf-8")))
            cells = [cell for row in rows for cell in row]
            assert not any(cell.lstrip().startswith(("=", "@", "+")) for cell in cells)
