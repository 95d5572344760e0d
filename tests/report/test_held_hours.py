"""Hours held by a limit: what counts as one, and one number wherever it is printed."""

import re
from dataclasses import replace

import numpy as np
import pytest

from tests.report.test_pictures import result
from tests.report.test_tables import cells
from yieldkit.physics.circuit.api import BINDING
from yieldkit.report.figures import operating_points as figures_points
from yieldkit.report.tables import energy as tables_energy
from yieldkit.report.tables.terminal import result_text
from yieldkit.study.simulation.limited_hours import limit_hours, limit_steps

pytestmark = pytest.mark.slow


def test_waiting_for_the_start_is_no_limit_but_holding_down_to_nothing_is():
    made = result(hours=12)
    codes = made["binding_limit"].to_numpy()[:, 0]
    codes[:4] = BINDING["off: dark"]
    codes[4:6] = BINDING["start-up or stop"]
    codes[6:8] = BINDING["window low"]
    codes[8] = BINDING["power bound"]
    made["p_dc"].to_numpy()[:8] = 0.0
    own = made.sel(tracker="A")
    assert list(np.flatnonzero(limit_steps(own))) == [6, 7, 8]
    assert limit_hours(own) == 3.0
    own.attrs["interval_s"] = 900
    assert limit_hours(own) == 0.75


def by_input(rows, wiring):
    """Return the last column of a wiring's rows by input."""
    return {row[1]: float(row[-1]) for row in rows if row[0] == wiring}


@pytest.fixture(scope="module")
def limited(comparison):
    """Return a comparison, one of whose inputs is held for five hours of three days."""
    name, first = comparison.results[0]
    held = first.copy(deep=True)
    noon = np.flatnonzero(held["p_dc"].to_numpy()[:, 0] > 0.0)[5:10]
    held["binding_limit"].to_numpy()[noon, 0] = BINDING["input current"]
    return replace(comparison, results=((name, held), *comparison.results[1:]))


def test_terminal_report_and_figure_print_the_same_hours(limited):
    rows = cells(tables_energy.load_table(limited))[1:]
    for name, one in limited.results:
        told = result_text(one)
        printed = {
            tracker: float(re.search(rf"(?m)^{tracker} .* (\d+) h$", told)[1])
            for tracker in one["tracker"].to_numpy()
        }
        assert printed == by_input(rows, name)
        for tracker, hours in printed.items():
            own = one.sel(tracker=tracker)
            assert hours == limit_hours(own)
    name, held = limited.results[0]
    assert by_input(rows, name)[str(held["tracker"].to_numpy()[0])] >= 5.0
    # The mornings' waits for the start are in the result and not in the count.
    waits = held["binding_limit"] == BINDING["start-up or stop"]
    assert int(waits.sum()) > 0
    alt = figures_points.operating_points_picture(limited, name).alt
    assert f"{by_input(rows, name)['MPPT 1']:.0f} h held by a limit." in alt
