"""Work shared between runs: every row is that of `simulate`, to the last bit, in any order."""

import random

import pytest

from tests.amounts import amount
from tests.study import every_key_sites
from tests.study.batch import batches
from tests.study.every_key_trials import TRIALS
from tests.study.test_every_key import KEYS, changed, leaves, others
from yieldkit.base.errors import InputError
from yieldkit.config.site.files import site_from_mapping
from yieldkit.study.batch import kept_work, shared
from yieldkit.study.batch.kept_work import KeptWork
from yieldkit.study.batch.part_work import run_row
from yieldkit.study.batch.run import site_of
from yieldkit.study.batch.shared import SharedWork
from yieldkit.study.simulation import trackers
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import as_dataset, simulate_prepared
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.simulation.weather import site_weather

pytestmark = pytest.mark.slow

EVERY_KIND = """\
base: site.yaml
axes:
  - {kind: weather, name: weather, files: [days.csv, warm.csv]}
  - {kind: key, name: latitude, path: site.latitude, values: [44.5, 45]}
  - {kind: key, name: albedo, path: site.albedo, values: [0.2, 0.6]}
  - {kind: key, name: sky, path: models.transposition, values: [perez-driesse, hay-davies]}
  - {kind: key, name: tilt, path: planes.west roof.tilt_deg, values: [10, 28, 45]}
  - {kind: key, name: azimuth, path: planes.east roof.azimuth_deg, values: [85, 120]}
  - {kind: module_type, name: module, values: ["M430 (invented)", "M410 (invented)"]}
  - {kind: key, name: soiling, path: planes.west roof.soiling_loss_percent, values: [0, 4]}
  - {kind: string_length, name: length, tracker: MPPT 2, values: [10, 12, 13]}
  - kind: key
    name: cable
    path: wirings.west and east in parallel.trackers.MPPT 2.strings.0.cable.length_m
    values: [5, 60]
  - {kind: key, name: lead, path: grid.lead.length_m, values: [5, 18, 80]}
  - {kind: key, name: volts, path: grid.network_voltage.voltage_v, values: [230, 233, 246]}
  - {kind: dc_ac_ratio, name: ratio, values: [1.3, 2.2]}
wirings: [one plane per tracker, west and east in parallel]
"""


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """Return the sites of a plan of all kinds of axes, and runs drawn from it."""
    folder = tmp_path_factory.mktemp("every_kind")
    batches.put_site(folder)
    runs = batches.batch(folder, EVERY_KIND)
    chosen = set(random.Random(18).sample(range(len(runs)), amount(50, 200)))
    picked = [run for number, run in enumerate(runs) if number in chosen]
    random.Random(5).shuffle(picked)
    return runs.bases, picked


def test_drawn_runs_of_all_kinds_are_those_of_simulate_bit_for_bit(drawn):
    bases, picked = drawn
    work = SharedWork()
    seen = {axis: set() for axis, _ in picked[0].axes}
    for run in picked:
        row, _ = run_row(bases, run, work)
        assert row["status"] == "ok", row["message"]
        wanted = batches.oracle_row(site_of(bases, run))
        assert {name: row[name] for name in wanted} == wanted, run.axes
        for axis, value in run.axes:
            seen[axis].add(value)
    assert all(len(values) > 1 for values in seen.values())


def by_position(patch):
    """Keep circuits by the position of their planes, whatever is on the planes."""
    patch.setattr(Solutions, "made_of", lambda _self, strings, places: (strings, places))
    patch.setattr(Solutions, "plane", lambda _self, condition: condition)


def curtailed_whatever_the_cap(patch):
    """Keep points under a bound by what was bounded, and not by how much."""
    patch.setattr("yieldkit.study.simulation.ac_side.fingerprint", lambda *_parts: "the same")


def without_the_sky(patch):
    """Keep planes by all that is said of them, whatever weather is over them."""
    right = shared._plane_content
    patch.setattr(
        shared, "_plane_content", lambda site, plane, _sky, scene: right(site, plane, "", scene)
    )


def without_the_module(patch):
    """Leave a plane's module type out of what tells it."""
    right = shared.fingerprint
    patch.setattr(shared, "fingerprint", lambda *parts: right(*parts[:4]))


@pytest.mark.parametrize(
    ("wrong", "changes"),
    [
        (by_position, {"planes.west roof.tilt_deg": 40.0}),
        (curtailed_whatever_the_cap, {"grid.export_limit_w": 4000.0}),
        (without_the_sky, {"weather.file": "warm.csv"}),
        (without_the_module, {"module_types.M430 (invented).i_mp_a": 13.25}),
    ],
)
def test_work_that_is_kept_by_less_than_its_content_would_be_noticed(
    wrong, changes, tmp_path, monkeypatch
):
    runs = batches.batch(tmp_path, batches.SMALL)
    first = site_of(runs.bases, next(iter(runs))).variant({"grid.export_limit_w": 3000.0})
    second = first.variant(changes)
    alone = SharedWork().simulated(second, second.wirings[0]).budget.delivered_kwh
    for patched in (False, True):
        if patched:
            wrong(monkeypatch)
        work = SharedWork()
        work.simulated(first, first.wirings[0])
        after = work.simulated(second, second.wirings[0]).budget.delivered_kwh
        assert (after == alone) == (not patched)


def kept_by_path(patch):
    """Keep weather by its path."""
    kept = {}
    right = SharedWork.weather

    def wrong(self, site):
        return kept.setdefault(site.weather.file, right(self, site))

    patch.setattr(SharedWork, "weather", wrong)


@pytest.mark.parametrize("wrong", [None, kept_by_path])
def test_weather_edited_between_two_runs_is_read_again(wrong, tmp_path, monkeypatch):
    if wrong:
        wrong(monkeypatch)
    runs = batches.batch(tmp_path, batches.SMALL)
    site = site_of(runs.bases, next(iter(runs)))
    work = SharedWork()
    before = work.simulated(site, site.wirings[0]).budget.delivered_kwh
    path = tmp_path / "days.csv"
    text = path.read_text()
    lines = text.splitlines()
    noon = next(at for at, line in enumerate(lines) if line.startswith("2") and "12:00" in line)
    when, light, *rest = lines[noon].split(",")
    lines[noon] = ",".join([when, f"{float(light) + 1.0:.2f}"[: len(light)], *rest])
    path.write_text("\n".join(lines) + "\n")
    after = work.simulated(site, site.wirings[0]).budget.delivered_kwh
    assert (after != before) == (wrong is None)
    if wrong is None:
        fresh = simulate_prepared(prepare(site, site_weather(site)), site.wirings[0], Solutions())
        assert after == fresh.attrs["energy_kwh"]


def test_a_file_edited_since_the_plan_was_read_makes_a_failed_row(tmp_path):
    runs = batches.batch(tmp_path, batches.SMALL)
    batches.put_days(tmp_path / "days.csv", warmer=1.0)
    row, simulated = run_row(runs.bases, next(iter(runs)), SharedWork())
    assert simulated is None
    assert row["status"] == "failed"
    assert "days.csv: got another content than when the plan was read" in row["message"]
    assert "Give the same command again." in row["message"]
    assert "energy_kwh" not in row


def every_trial(folder):
    """Yield every base, and each with another value of one key, as what makes its content."""
    sites, listed = every_key_sites.bases()
    for content in sites.values():
        yield content, (), None, {}
        for owner, key, path, value in leaves(site_from_mapping(content, folder=folder)):
            name = (owner, key)
            if name in KEYS:
                for other in listed.get(name) or TRIALS.get(name) or others(name, value):
                    yield content, path, value, other


def test_whatever_key_differs_a_shared_run_is_that_of_one_alone(tmp_path):
    every_key_sites.filled(tmp_path)
    trials = list(every_trial(tmp_path))
    assert len(trials) > 400
    chosen = trials if amount(0, 1) else random.Random(3).sample(trials, 80)
    work, known, compared = SharedWork(), {}, 0
    for trial in chosen:
        try:
            site = site_from_mapping(changed(*trial), folder=tmp_path)
            asked = repr((site.weather, site.site, site.models.decomposition))
            if asked not in known:
                known[asked] = site_weather(site)
            prepared = prepare(site, known[asked])
        except (InputError, TypeError):  # no such site, or a trial of another base
            continue
        wiring = site.wirings[0]
        alone = simulate_prepared(prepared, wiring, Solutions())
        assert as_dataset(work.simulated(site, wiring)).identical(alone), trial[1:]
        compared += 1
    assert compared > len(chosen) // 2


def test_another_far_horizon_of_the_place_is_another_plane(tmp_path):
    runs = batches.batch(tmp_path, batches.SMALL)
    site, work = site_of(runs.bases, next(iter(runs))), SharedWork()
    wiring = site.wirings[0]
    hills = [{"azimuth_deg": 0, "elevation_deg": 25}, {"azimuth_deg": 180, "elevation_deg": 25}]
    behind = site.variant({"site.horizon": hills})
    free, hidden = work.simulated(site, wiring), work.simulated(behind, wiring)
    assert hidden.budget.delivered_kwh < 0.95 * free.budget.delivered_kwh
    again = SharedWork().simulated(behind, wiring)
    assert hidden.budget.delivered_kwh == again.budget.delivered_kwh


def test_steps_without_solution_are_left_out_as_by_simulate(tmp_path, monkeypatch):
    runs = batches.batch(tmp_path, batches.SMALL)
    site = site_of(runs.bases, next(iter(runs)))
    solve = trackers.circuit.operating_point

    def gives_up(conditions, strings, *rest, **options):
        point = solve(conditions, strings, *rest, **options)
        if point.status.size > 60:
            point.status[60] = conditions.photocurrent[60, 0] > 0.0
        return point

    monkeypatch.setattr(trackers.circuit, "operating_point", gives_up)
    row, _ = run_row(runs.bases, next(iter(runs)), SharedWork())
    wanted = batches.oracle_row(site)
    assert row["unsolved_steps"] == 1.0
    assert {name: row[name] for name in wanted} == wanted


def test_what_is_kept_stays_inside_its_bound_and_the_longest_unused_goes_first():
    kept = KeptWork(most_bytes=10_000)
    made = []

    def make(number):
        made.append(number)
        return kept_work.np.zeros(400)  # 3,200 bytes

    for number in (1, 2, 3, 1, 4):
        kept(number, lambda number=number: make(number))
    assert made == [1, 2, 3, 4]
    assert kept.bytes <= 10_000
    assert set(kept) == {3, 1, 4}
    kept("large", lambda: kept_work.np.zeros(4000))
    assert set(kept) == {"large"}
