"""What follows from whole runs: known responses found again, and runs left out foretold."""

import numpy as np
import pytest

from tests.study.estimate.plants import drawn
from tests.study.sites import demo
from yieldkit.study.estimate.model import Features, fitted_model
from yieldkit.study.estimate.response import fitted, ridge_response
from yieldkit.study.estimate.weather_years import Years

RNG = np.random.default_rng(11)
NUMBERS = RNG.standard_normal((64, 6))
SLOPES = RNG.normal(0.0, 0.02, (6, 12))


def misfit(logs):
    """Return a judge of logarithms against those given."""
    return lambda foretold: float(np.sqrt(np.mean(np.square(foretold - logs))))


def test_a_straight_response_is_found_again():
    logs = 0.3 + NUMBERS @ SLOPES
    found = fitted(NUMBERS, logs, misfit(logs))
    others = RNG.standard_normal((20, 6))
    assert found.at(others) == pytest.approx(0.3 + others @ SLOPES, abs=2e-4)


def test_a_number_that_costs_to_both_sides_bends_it():
    logs = NUMBERS @ SLOPES - 0.01 * np.square(NUMBERS[:, [2]])
    found = fitted(NUMBERS, logs, misfit(logs))
    bent = np.abs(found.directions[:, 2]) == 1.0
    assert bent.any()
    sides = np.zeros((3, 6))
    sides[:, 2] = (-2.0, 0.0, 2.0)
    low, middle, high = found.at(sides).mean(axis=1)
    assert 0.5 * (low + high) - middle == pytest.approx(-0.04, abs=0.002)


def test_without_a_constant_nothing_is_foretold_for_the_middle():
    logs = NUMBERS @ SLOPES
    found = fitted(NUMBERS, logs, misfit(logs), free=False)
    assert (found.at(np.zeros((1, 6))) == 0.0).all()


@pytest.mark.parametrize("constant", [0.0, 1e4])
def test_runs_left_out_are_foretold_as_if_they_had_not_been_made(constant):
    logs = 0.1 + NUMBERS @ SLOPES + RNG.normal(0.0, 0.01, (64, 12))
    weights = np.linspace(0.1, 1.0, 6)
    whole = ridge_response(NUMBERS, logs, weights, 0.3, constant)
    for run in (0, 17, 63):
        others = np.arange(64) != run
        without = ridge_response(NUMBERS[others], logs[others], weights, 0.3, constant)
        expected = without.at(NUMBERS[[run]])[0]
        assert whole.left_out[run] == pytest.approx(expected, abs=1e-8)


def test_months_without_light_keep_what_the_nights_take():
    drawing = drawn(demo(), 64, days=40)
    features = Features(drawing.unsure)
    nominal = np.linspace(50.0, 600.0, 12)
    nominal[0] = -2.0
    years = Years(RNG.uniform(0.9, 1.1, (64, 12)), np.ones(64))
    months = nominal * years.factor
    months[:, 0] = RNG.uniform(-2.2, -1.8, 64)
    kept = np.full(12, 0.99)
    runs = drawing.numbers, years, months
    model = fitted_model(features, nominal, runs, kept, np.zeros(12))
    found = model.months(drawing.numbers, years)
    assert model.steady.tolist() == [False] + [True] * 11
    assert found[:, 0] == pytest.approx(0.99 * months[:, 0].mean(), rel=1e-12)
    assert found[:, 1:] == pytest.approx(0.99 * months[:, 1:], rel=1e-6)
