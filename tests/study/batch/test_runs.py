"""The runs of a plan: which there are, what each changes, and in which order."""

import itertools

from tests.study.batch.plans import runs_in
from yieldkit.study.batch.run import order_key, site_of

GRID = """\
    base: site.yaml
    axes:
      - {name: tilt, path: planes.west.tilt_deg, values: [20, 30, 40]}
      - {name: resistance, path: grid.network_resistance_ohm, values: [0, 0.1]}
    """


def changes(run):
    return dict(run.changes)


def test_every_combination_is_run_once_wirings_first(tmp_path):
    runs = runs_in(tmp_path, GRID)
    assert (len(runs), runs.left_out) == (12, 0)
    found = [(*dict(run.axes).values(), run.wiring) for run in runs]
    assert found == list(itertools.product([20, 30, 40], [0, 0.1], ["plain", "crossed"]))
    assert [run.number for run in runs] == list(range(12))
    assert len({run.name for run in runs}) == 12


def test_a_value_that_the_site_has_is_no_change(tmp_path):
    by_axes = {tuple(dict(run.axes).values()): run for run in runs_in(tmp_path, GRID)}
    assert changes(by_axes[30, 0]) == {}
    assert changes(by_axes[20, 0]) == {"planes.west.tilt_deg": 20}
    assert changes(by_axes[20, 0.1]) == {
        "planes.west.tilt_deg": 20,
        "grid.network_resistance_ohm": 0.1,
    }


def test_a_run_is_its_variant_with_its_own_wiring_alone(tmp_path):
    runs = runs_in(tmp_path, GRID)
    for run in runs:
        site = site_of(runs.bases, run)
        said = dict(run.axes)
        assert site.planes[0].tilt_deg == said["tilt"]
        assert site.grid.network_resistance_ohm == said["resistance"]
        assert [wiring.name for wiring in site.wirings] == [run.wiring]


def test_runs_in_order_share_what_they_can(tmp_path):
    text = """\
        base: site.yaml
        axes:
          - {name: resistance, path: grid.network_resistance_ohm, values: [0, 0.1, 0.2]}
          - {name: soiling, path: planes.west.soiling_loss_percent, values: [1, 2]}
          - {name: tilt, path: planes.west.tilt_deg, values: [20, 35, 40]}
        """
    runs = runs_in(tmp_path, text)
    ordered = list(runs.in_order())
    assert {run.name for run in ordered} == {run.name for run in runs}
    keys = [order_key(run) for run in ordered]
    for depth in range(1, len(keys[0]) + 1):
        beginnings = [key[:depth] for key in keys]
        met = [first for first, _ in itertools.groupby(beginnings)]
        assert len(met) == len(set(met))
    assert [dict(run.axes)["resistance"] for run in ordered[:3]] == [0, 0.1, 0.2]
