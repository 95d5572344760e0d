"""The roof in the report: what the picture and its table say of every string."""

from tests.report.pages import seen
from tests.study.sites import demo, variant
from yieldkit.design.roof.layout import string_layout
from yieldkit.report.figures.roof import roof_picture, roof_table


def cells(html):
    """Return a table's rows of text."""
    return [
        [part.split(">", 1)[1] for part in row.replace("</th>", "</td>").split("</td>")[:-1]]
        for row in html._repr_html_().split("<tbody>")[1].split("</tr>")[:-1]
    ]


def test_the_table_says_how_every_string_lies():
    site = demo()
    layout = string_layout(site, site.wirings[0])
    rows = cells(roof_table(layout))
    texts = [[cell.split(">")[-1] for cell in row] for row in rows]
    assert [row[0] for row in texts] == ["1", "2", "3", "4"]
    assert [row[2] for row in texts] == [
        "14 west roof",
        "13 west roof",
        "14 east roof",
        "7 dormer",
    ]
    for row, run in zip(texts, layout, strict=True):
        assert row[3] == "side by side"
        assert row[4] == ("every other, and back" if run.skips else "one after the other")
        assert row[5] == "yes"
        assert float(row[6]) == round(run.conductor_m, 1)


def test_a_string_over_two_planes_has_one_number_and_no_length():
    site = demo()
    layout = string_layout(site, site.wirings[3])
    texts = [[cell.split(">")[-1] for cell in row] for row in cells(roof_table(layout))]
    assert [row[0] for row in texts] == ["1", "2", "3", "3"]
    assert [row[6] for row in texts][2:] == ["NOT CHECKED", "NOT CHECKED"]


def test_without_places_the_layout_is_not_checked():
    site = variant()
    assert string_layout(site, site.wirings[0]) is None
    html = roof_table(None)._repr_html_()
    assert "NOT CHECKED" in html
    assert "by plane" in html


def test_the_picture_says_in_words_what_it_shows():
    site = demo()
    layout = string_layout(site, site.wirings[0])
    picture = roof_picture(site, layout, "one plane per tracker")
    for number, run in enumerate(layout, start=1):
        words = f"string {number} ({run.mppt}, string {run.string}): {len(run.modules)} modules"
        assert words in picture.alt
    # Every module once, and a mark where the cables leave each plane.
    axes = picture.figure.axes[0]
    assert len(axes.patches) == 48
    squares = [line for line in axes.lines if line.get_marker() == "s"]
    assert len(squares) == 3
    assert seen(picture._repr_html_()).all("img")


def test_a_strings_number_stands_in_its_modules_upper_left():
    site = demo()
    layout = string_layout(site, site.wirings[0])
    axes = roof_picture(site, layout, "one plane per tracker").figure.axes[0]
    wanted = [text for text in axes.texts if text.get_text() in ("1", "2", "3", "4")]
    boxes = [patch.get_bbox() for patch in axes.patches]
    assert len(wanted) == sum(len(run.modules) for run in layout)
    for text in wanted:
        x, y = text.xy
        (box,) = (each for each in boxes if each.contains(x, y))
        assert x < 0.5 * (box.x0 + box.x1)
        assert y > 0.5 * (box.y0 + box.y1)


def test_modules_without_a_string_are_drawn_empty():
    site = demo()
    content = site.model_dump()["wirings"][0]
    content["trackers"] = content["trackers"][:1]
    few = variant(None, [content], site.model_dump()["planes"])
    picture = roof_picture(few, string_layout(few, few.wirings[0]), "few")
    axes = picture.figure.axes[0]
    # Only the plane in use is shown, all of it wired.
    assert len(axes.patches) == 27
    content["trackers"][0]["strings"] = content["trackers"][0]["strings"][:1]
    fewer = variant(None, [content], site.model_dump()["planes"])
    picture = roof_picture(fewer, string_layout(fewer, fewer.wirings[0]), "fewer")
    empty = [p for p in picture.figure.axes[0].patches if p.get_facecolor()[:3] == (1, 1, 1)]
    assert len(empty) == 13
