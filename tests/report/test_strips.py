"""Tall pictures are cut where there is least ink, and lose nothing."""

import io
import re

import numpy as np
import pytest
from matplotlib.image import imread

from yieldkit.report.figures.picture import Picture, new_figure
from yieldkit.report.figures.strips import even_cuts, ink_by_row, strips_of

pytestmark = pytest.mark.slow


def bars(count, height):
    figure = new_figure(height)
    figure.subplots().barh(np.arange(count), np.arange(count) + 1.0, height=0.6, color="black")
    return Picture(figure, "some bars", "Bars.")


def test_strips_are_the_picture():
    png = bars(20, 8.0).png()
    parts = strips_of(png, 450)
    whole = imread(io.BytesIO(png))
    again = [imread(io.BytesIO(part)) for part in parts]
    np.testing.assert_array_equal(np.vstack(again), whole)
    assert len(parts) == 3
    assert max(map(len, again)) <= 1.25 * 450


def test_no_bar_is_cut():
    drawn = imread(io.BytesIO(bars(20, 8.0).png()))[..., :3]
    ink = ink_by_row(drawn)
    # A row through a bar has far more ink than one between two, where only the frame is.
    assert all(ink[cut] < 20 for cut in even_cuts(ink, 450))


def test_a_cut_takes_the_middle_of_the_widest_blank():
    ink = np.ones(100, dtype=int)
    ink[[45, 52, 53, 54, 55]] = 0
    assert even_cuts(ink, 60) == [54]
    assert even_cuts(ink, 100) == []


def test_a_cut_wanders_an_eighth_of_a_strip_to_either_side():
    # A quarter of a strip's 50 rows about row 50: from 44 up to, not including, 56.
    for row, found in ((44, 44), (55, 55)):
        ink = np.ones(100, dtype=int)
        ink[row] = 0
        assert even_cuts(ink, 60) == [found]
    ink = np.ones(100, dtype=int)
    ink[[43, 56]] = 0
    assert even_cuts(ink, 60) == [50], "further away is not looked at"


def test_a_low_picture_is_whole_and_a_tall_one_keeps_its_words_once():
    assert bars(5, 2.9)._repr_html_().count("<img") == 1
    page = bars(20, 8.0)._repr_html_()
    assert page.count("<img") == 3
    assert re.findall(r'alt="([^"]*)"', page) == ["some bars", "", ""]
    heights = [int(each) for each in re.findall(r'height="(\d+)"', page)]
    assert abs(sum(heights) - 8 * 96) <= 3
    assert page.startswith('<figure class="tall"><div><figcaption>Bars.</figcaption><img')
