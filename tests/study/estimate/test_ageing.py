"""What is left of a plant's power with the years, against published figures."""

import numpy as np
import pytest

from yieldkit.config.site.files import load_site
from yieldkit.study.estimate.ageing import aged, ages_of_life, life_mean, power_left


def test_half_a_percent_a_year_after_25_years():
    # Jordan and Kurtz 2013 give the median of 0.5 %/year (read); the rest is computed from it.
    assert power_left(0.5, 25.0, "compound") == pytest.approx(0.8822, abs=5e-5)
    assert power_left(0.5, 25.0, "linear") == pytest.approx(0.875, abs=1e-12)
    assert life_mean(0.5, 25, "compound", at=0.0) == pytest.approx(0.9422, abs=5e-5)
    assert life_mean(0.5, 25, "compound") == pytest.approx(0.9399, abs=5e-5)


def test_nothing_is_left_in_the_end_and_never_less():
    left = power_left(5.0, np.array([0.0, 10.0, 30.0]), "linear")
    assert left.tolist() == [1.0, 0.5, 0.0]


def test_each_year_of_life_is_spoken_for_by_its_middle():
    assert ages_of_life(3).tolist() == [0.5, 1.5, 2.5]


def test_a_new_plant_is_the_plant_itself():
    site = load_site()
    assert aged(site, 0.0) is site
    assert aged(site, 7.0, 0.0) is site


def test_age_comes_upon_what_modules_deviate_by():
    site = load_site().variant({"planes.0.power_deviation_percent": 2.0})
    old = aged(site, 10.0, 0.5)
    found = [plane.power_deviation_percent for plane in old.planes]
    assert found == pytest.approx([1.02 * 95.0 - 100.0, -5.0, -5.0], rel=1e-9)
    assert old.module_types == site.module_types


def test_a_site_ages_as_it_states():
    said = {"power_loss_percent_per_year": 0.8, "source": "a warranty (invented)"}
    site = load_site().variant({"estimate.ageing": said})
    assert aged(site, 10.0).planes[0].power_deviation_percent == pytest.approx(-8.0)
    compound = site.variant({"estimate.ageing.course": "compound"})
    expected = 100.0 * 0.992**10 - 100.0
    assert aged(compound, 10.0).planes[0].power_deviation_percent == pytest.approx(expected)
