"""Names written from right to left: joined, turned and kept apart in pictures and pages."""

import io

import numpy as np
import pytest
from matplotlib.image import imread

from tests.report.browser import in_browser
from tests.report.pages import seen
from yieldkit.report.figures.picture import Picture, label, new_figure
from yieldkit.report.markup import escape, kept_apart
from yieldkit.report.tables.html import table

pytestmark = pytest.mark.slow

ROOF, EAST = "\u05d2\u05d2", "\u05de\u05d6\u05e8\u05d7"
"""Hebrew: roof, east."""
ARABIC = "\u0627\u0644\u0633\u0637\u062d"
"""Arabic: the roof."""
NOT_JOINED = "\u200c"
MARK = "\u200e"


def drawn(text):
    """Return the ink of a text in a picture, without what is blank around it."""
    figure = new_figure(0.5)
    figure.text(0.0, 0.5, text, fontsize=14)
    ink = imread(io.BytesIO(Picture(figure, "", "").png()))[..., :3].mean(axis=-1) < 0.5
    columns = np.flatnonzero(ink.any(axis=0))
    return ink[:, columns.min() : columns.max() + 1]


def test_arabic_letters_are_joined_and_turned():
    assert drawn(label(ARABIC)).shape[1] < 0.9 * drawn(NOT_JOINED.join(ARABIC)).shape[1]
    # The first letter, a plain stroke, stands at the right.
    alef = drawn(label(ARABIC[0]))
    np.testing.assert_array_equal(drawn(label(ARABIC))[:, -alef.shape[1] :], alef)


def test_a_count_stays_beside_its_own_plane():
    whole = drawn(label(f"14 {ROOF} + 7 {EAST}"))
    first = drawn(label(f"14 {ROOF}"))
    # All but the last columns, whose rounding depends on what follows.
    np.testing.assert_array_equal(whole[:, : first.shape[1] - 2], first[:, :-2])
    # Without the marks it would not: that is what they are for.
    among_words = f"string 14 {ROOF} + 7 {EAST}"
    assert not np.array_equal(drawn(among_words), drawn(label(among_words)))


def test_marks_stand_behind_such_names_only():
    assert kept_apart("14 west + 7 east") == "14 west + 7 east"
    name = f"{ROOF} 2 {EAST}"
    assert kept_apart(f"14 {name} + 7 {ROOF}") == f"{MARK}14 {name}{MARK} + 7 {ROOF}{MARK}"
    assert escape(f"<{ROOF}>") == f"{MARK}&lt;{ROOF}{MARK}&gt;"
    # A person's own marks, which may turn our words round, are still taken out.
    assert "\u202e" not in escape(f"{ROOF}\u202e x")


def test_a_browser_shows_counts_beside_their_names():
    shown = table(("string",), [(f"14 {ROOF} + 7 {EAST}",)], "c").text
    assert f"14 {ROOF}" in "".join(seen(shown).texts)
    script = (
        "<script>const r=document.createRange(),"
        "n=document.querySelector('th[scope=row]').firstChild,"
        "x=t=>{const i=n.data.indexOf(t);r.setStart(n,i);r.setEnd(n,i+t.length);"
        "return r.getBoundingClientRect().left};"
        f"document.title=['14','{ROOF}','7','{EAST}'].map(x).map(Math.round).join(' ')</script>"
    )
    page = f"<!DOCTYPE html><html lang=en><meta charset=utf-8><body>{shown}{script}"
    dumped = in_browser(page, "--dump-dom")
    places = [int(each) for each in dumped.split("<title>")[1].split("</title>")[0].split()]
    assert places == sorted(places)
    assert len(set(places)) == 4
