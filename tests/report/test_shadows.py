"""What shadows take, in the report: module by module on the roof, and the days they take most."""

import json
import re

import numpy as np
import pytest
import xarray as xr

from tests.design.shaded import CHIMNEY, TREE, shaded_site
from tests.report.pages import seen
from tests.study.sites import weather
from yieldkit.design.checks.limits import check
from yieldkit.report.figures.shadows import shadows_picture, shadows_table
from yieldkit.study.estimate.choice import Choice
from yieldkit.study.estimate.nominal import with_nominal
from yieldkit.study.estimate.result import Estimate
from yieldkit.study.simulation.module_shadows import plain_shadows, shadows_from, shadows_of
from yieldkit.study.simulation.prepare import prepare

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def site():
    return shaded_site(CHIMNEY, TREE)


@pytest.fixture(scope="module")
def days():
    every = weather()
    chosen = [hour for day in (80, 81, 172, 355) for hour in range(24 * day, 24 * day + 24)]
    return every.isel(time=chosen).assign_attrs(every.attrs)


@pytest.fixture(scope="module")
def prepared(site, days):
    return prepare(site, days)


@pytest.fixture(scope="module")
def shadows(prepared, site):
    return shadows_of(prepared, site.wirings[:2])


def test_what_modules_lose_is_what_hours_and_days_lose(shadows, prepared, site):
    lost = {own.plane: np.array(own.lost_kwh) for own in shadows.planes}
    assert list(lost) == ["west roof", "east roof"]
    whole = sum(each.sum() for each in lost.values())
    assert whole > 2.0
    assert sum(shadows.hours_kwh) == pytest.approx(whole, rel=1e-3)
    assert sum(day.lost_kwh for day in shadows.days) == pytest.approx(whole, rel=1e-3)
    assert [day.lost_kwh for day in shadows.days] == sorted(
        (day.lost_kwh for day in shadows.days), reverse=True
    )
    for own in shadows.planes:
        assert min(own.lost_kwh) >= 0.0
        assert max(own.lost_kwh) < own.without_kwh
    # The chimney stands beside the upper row of the east roof's first column.
    assert lost["east roof"].argmax() in (0, 7)
    assert all("05:00" <= day.begin < day.end <= "21:00" for day in shadows.days)


def test_each_module_is_told_with_its_string(shadows, site):
    for name, strings in shadows.strings:
        picture = shadows_picture(site, shadows, name)
        axes = picture.figure.axes[0]
        assert len(axes.patches) == 27 + 14
        texts = [text.get_text() for text in axes.texts]
        numbers = [text for text in texts if re.fullmatch(r"\d+|–", text)]
        told = [str(number) if number else "–" for plane in strings for number in plane]
        assert numbers == told
        kwh = [float(text) for text in texts if re.fullmatch(r"-?\d+\.\d", text)]
        assert kwh == [round(lost, 1) for own in shadows.planes for lost in own.lost_kwh]
        tones = np.array([patch.get_facecolor()[0] for patch in axes.patches])
        lost = np.concatenate([own.lost_kwh for own in shadows.planes])
        assert tones.argmin() == lost.argmax()
        assert np.all(np.diff(tones[np.argsort(lost)]) <= 1e-12)
        worst = max(shadows.planes[1].lost_kwh)
        assert f"{worst:.1f} kWh" in picture.alt
        assert seen(picture._repr_html_()).all("img")
    counted = [sum(n == 1 for plane in strings for n in plane) for _, strings in shadows.strings]
    first = site.wirings[0].trackers[0].strings[0].groups
    assert counted[0] == sum(group.modules for group in first)


def test_the_worst_days_are_named_with_their_hours(shadows):
    text = re.sub("<[^>]+>", " ", shadows_table(shadows)._repr_html_())
    for day in shadows.days:
        assert day.date in text
        assert f"{day.begin} to {day.end}" in text
        assert f"{day.lost_kwh:.1f}" in text
    assert re.search(r"Of all that they take \d+ % falls into the hours \d\d to \d\d h", text)


def test_they_are_kept_with_the_details(shadows):
    kept = json.loads(json.dumps(plain_shadows(shadows)))
    assert shadows_from(kept) == shadows
    assert shadows_from(plain_shadows(None)) is None


def test_without_corners_there_is_nothing_to_tell(days):
    bare = shaded_site(**{f"planes.{n}.corner_m": None for n in range(3)})
    assert shadows_of(prepare(bare, days), bare.wirings) is None


def test_an_estimate_carries_those_of_its_wiring(prepared, site):
    wiring = site.wirings[1]
    data = with_nominal(xr.Dataset(), prepared, Choice(wiring, "", check(site, wiring)))
    found = Estimate(data).shadows
    assert found == shadows_of(prepared, [wiring])
    assert [name for name, _ in found.strings] == [wiring.name]
