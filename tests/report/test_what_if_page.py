"""The page of a what-if batch: its pictures and tables say what the runs gave."""

import numpy as np
import pandas as pd
import pytest

from tests.report.pages import seen, what_if_in_process
from tests.study.batch.test_what_if import COUNTS, DIMENSIONS, energy_of, failed, frame
from yieldkit import report
from yieldkit.study.batch.what_if import looked_at

pytestmark = pytest.mark.slow


def found(rows=None, dimensions=DIMENSIONS):
    return looked_at(
        frame() if rows is None else rows, dimensions, "plan.yaml", COUNTS, True, "snow"
    )


def test_the_tornado_names_each_axis_with_its_ends_the_largest_first():
    picture = report.tornado_picture(found())
    reference = energy_of(30, 6, "A", "plain")
    assert picture.alt == (
        f"Effects of single axes against the reference of {reference:,.0f} kWh: "
        "tilt -100 (20) to +100 kWh (40); cells +0 (A) to +40 kWh (B); "
        "both (lead / fuse) +0 (6 / 25) to +30 kWh (16 / 40); wiring -7 (bent) to +0 kWh (plain)."
    )
    (axes,) = picture.figure.axes
    widths = [round(bar.get_width()) for bar in axes.patches]
    assert widths == [-100, 100, 0, 40, 0, 30, -7, 0]
    assert axes.yaxis_inverted()


def test_a_response_has_a_line_for_each_wiring_and_a_ring_at_the_reference():
    picture = report.response_picture(found())
    panels = [axes for axes in picture.figure.axes if axes.get_visible()]
    assert [axes.get_title(loc="left") for axes in panels] == [
        "tilt",
        "cells",
        "both (lead / fuse)",
    ]
    lines = {str(line.get_label()): line for line in panels[0].get_lines()}
    assert lines["plain"].get_xdata().tolist() == [20, 30, 40]
    assert lines["bent"].get_ydata().tolist() == [
        energy_of(t, 6, "A", "bent") for t in (20, 30, 40)
    ]
    assert lines["_reference"].get_xdata() == [30]
    assert lines["_reference"].get_ydata() == [energy_of(30, 6, "A", "plain")]
    assert "tilt: 20 1,218, 30 1,318, 40 1,418 kWh." in picture.alt


def test_a_failed_run_leaves_a_gap_and_no_zero():
    rows = frame()
    chosen = (rows["lead"] == 6) & (rows["cells"] == "A") & (rows["wiring"] == "plain")
    (at,) = np.flatnonzero(chosen & (rows["tilt"] == 40))
    looked = found(failed(rows, at))
    lines = {
        str(one.get_label()): one for one in report.response_picture(looked).figure.axes[0].lines
    }
    assert lines["plain"].get_xdata().tolist() == [20, 30]
    assert "40 0" not in report.response_picture(looked).alt
    hatched = report.map_picture(looked).figure.axes[0].patches
    assert [patch.get_hatch() for patch in hatched] == ["////"]


def test_a_map_writes_every_energy_and_says_where_the_most_is():
    picture = report.map_picture(found())
    texts = [text.get_text() for text in picture.figure.axes[0].texts]
    assert sorted(texts) == sorted(
        f"{energy_of(tilt, 6, cells, 'plain'):,.0f}" for tilt in (20, 30, 40) for cells in "AB"
    )
    assert picture.alt == (
        "Energy over tilt and cells: 1,218 to 1,458 kWh, the most at tilt 40, cells B."
    )


def test_one_axis_has_no_map_and_no_axis_no_pictures():
    rows = frame()
    rows = rows[(rows["lead"] == 6) & (rows["cells"] == "A")]
    alone = found(rows, {"tilt": ["tilt"], "wiring": ["wiring"]})
    assert report.map_picture(alone) is None
    assert report.response_picture(alone) is not None
    none = found(rows[rows["tilt"] == 30].head(1), {"wiring": ["wiring"]})
    assert report.response_picture(none) is None
    assert report.tornado_picture(none) is None


def test_a_batch_of_failures_alone_has_no_pictures():
    rows = frame()
    for at in range(len(rows)):
        rows = failed(rows, at)
    looked = found(rows)
    assert report.tornado_picture(looked) is None
    assert report.map_picture(looked) is None
    assert "barn: no run that may be built." in report.what_if_box(looked).text
    assert "nan" not in report.what_if_box(looked).text
    assert "Before snow. A design aid" in report.what_if_box(looked).text


def test_many_values_are_named_and_written_in_part():
    parts = []
    for tilt in range(40):
        own = frame()[frame()["tilt"] == 30].assign(tilt=tilt)
        parts.append(own.assign(energy_kwh=own["energy_kwh"] + 10.0 * tilt))
    looked = found(failed(pd.concat(parts, ignore_index=True), 0))
    picture = report.map_picture(looked)
    assert not list(picture.figure.axes[0].texts)
    assert any("(white)" in text.get_text() for text in picture.figure.texts)
    assert "..., 39 " in report.response_picture(looked).alt


def test_the_page_answers_first_and_ends_with_the_cautions(monkeypatch):
    rows = failed(frame(), 0, "got <b>30 modules</b>")
    page = what_if_in_process(monkeypatch, found(rows))
    text = " ".join(" ".join(seen(page).texts).split())
    assert "What if? plan.yaml" in text
    best = energy_of(40, 16, "B", "plain")
    assert f"barn: {best:,.0f} kWh" in text
    assert "Building and equipment are invented." in text
    assert "Runs: 35 ok, 1 failed, 0 left out." in text
    assert "got <b>30 modules</b>" in text
    assert "<b>30 modules" not in page
    assert text.index("Live in daylight.") > text.index("What failed")
    order = ["Which axis does most?", "What each axis does", "Two axes together", "The best run"]
    places = [text.rindex(each) for each in order]
    assert places == sorted(places)


def test_no_failure_is_said_too():
    assert "No run failed." in report.failures_table(found()).text


def test_tables_hold_every_value_and_the_best():
    effects = report.effects_table(found()).text
    assert ">+100<" in effects
    assert ">the same<" in effects
    best = report.best_runs_table(found()).text
    assert ">permitted<" in best
    assert f">{energy_of(40, 16, 'B', 'plain'):,.0f}<" in best
