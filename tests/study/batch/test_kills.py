"""SIGKILL at any moment to client, worker, scheduler or all: the same command again ends well.

An ordinary run makes eight kills; YIELDKIT_KILLS=200 makes so many more, in other programs.
"""

import os
import random

import pandas as pd
import pytest

from tests.study.batch import batches, killing
from yieldkit.study.batch.combined import Runs
from yieldkit.study.batch.runs import runs_of
from yieldkit.study.batch.sweep import sweep

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="this system can't fork"),
]
KILLS = int(os.environ.get("YIELDKIT_KILLS", "0"))
TWO_HUNDRED = """\
base: site.yaml
axes:
  - {kind: key, name: tilt, path: planes.west roof.tilt_deg, range: {first: 10, last: 40, count: 7}}
  - {kind: key, name: lead, path: grid.lead.length_m, values: [6, 12, 18, 30, 40]}
  - {kind: key, name: soiling, path: planes.west roof.soiling_loss_percent, values: [0, 1, 3]}
wirings: [one plane per tracker, lopsided]
keep: {monthly: true, trackers: true}
"""
"""210 runs."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """Return a plan's runs, and the folder of the batch that nobody disturbed."""
    folder = tmp_path_factory.mktemp("whole")
    batches.put_site(folder)
    plan = batches.put_plan(folder, TWO_HUNDRED)
    runs = runs_of(plan)
    sweep(runs, folder / "whole", workers=1)
    return runs, folder


def test_runs_in_any_order_make_the_same_table(whole, monkeypatch):
    runs, folder = whole
    mixed = list(runs.in_order())
    random.Random(2).shuffle(mixed)
    monkeypatch.setattr(Runs, "in_order", lambda _self: iter(mixed))
    assert sweep(runs, folder / "mixed", workers=1).computed == len(runs)
    assert batches.same_tables(folder / "mixed", folder / "whole")


def test_four_kills_of_a_client_that_computes_itself(whole, monkeypatch):
    runs, folder = whole
    monkeypatch.setattr("yieldkit.study.batch.parts.TARGET_S", 0.2)
    rng, out, hit = random.Random(4), folder / "one-process", 0
    for _ in range(4):
        hit += killing.killed_in_this_process(runs, out, rng.uniform(0.1, 0.8))
        assert killing.sound(out) == []
    assert hit == 4
    left = killing.parts_of(out)
    assert left > 0
    told = killing.afterwards(runs, out, folder / "whole")
    assert told["same"]
    assert told["each once"]
    assert 0 < told["again"][0] < len(runs)


def test_two_clients_at_once_on_one_folder_make_the_right_table(whole):
    runs, folder = whole
    out = folder / "two-clients"
    other = batches.put_plan(folder, TWO_HUNDRED.replace("count: 7", "count: 4"), "other.yaml")
    pids = []
    for plan in (runs, other):
        pid = os.fork()
        if pid == 0:
            code = 1
            try:
                code = sweep(plan, out, workers=1).failed
            finally:
                os._exit(code)
        pids.append(pid)
    assert [os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in pids] == [0, 0]
    assert killing.sound(out) == []
    assert sweep(runs, out, workers=1).computed == 0
    assert batches.same_tables(out, folder / "whole")


POISON = """
import os, signal, sys
if "spawn_main" in " ".join(sys.orig_argv):
    import yieldkit.study.batch.part_work as work
    right = work.run_row
    def run_row(bases, run, shared):
        if run.name == os.environ["POISONED"]:
            os.kill(os.getpid(), signal.SIGKILL)
        return right(bases, run, shared)
    work.run_row = run_row
"""


def test_a_killed_tree_goes_on_and_a_run_that_kills_its_worker_twice_is_a_failed_row(
    whole, tmp_path
):
    runs, folder = whole
    out, plan = tmp_path / "out", folder / "plan.yaml"
    (tmp_path / "sitecustomize.py").write_text(POISON)
    poisoned = list(runs.in_order())[-1]
    program = killing.started(plan, out, 2)
    killing.wait_for(lambda: killing.parts_of(out) > 0 or program.poll() is not None)
    assert killing.listened_at(program) == {"127.0.0.1"}
    killing.end_session(program)
    assert killing.sound(out) == []
    program = killing.started(plan, out, 2, PYTHONPATH=str(tmp_path), POISONED=poisoned.name)
    before = killing.parts_of(out)
    killing.wait_for(lambda: killing.parts_of(out) > before or program.poll() is not None)
    killing.kill_worker(program, random.Random(1))
    code, said, errors = killing.ended(program)
    assert errors == ""
    assert (code, said["failed"]) == (3, 1)
    found = batches.table(out).to_pandas().set_index("run")
    wanted = batches.table(folder / "whole").to_pandas().set_index("run")
    message = found.loc[poisoned.name, "message"]
    assert message.startswith("Its worker died 2 times while computing it: not enough memory")
    others = [name for name in wanted.index if name != poisoned.name]
    pd.testing.assert_frame_equal(found.loc[others], wanted.loc[others])
    assert sweep(runs, out, workers=1, again="failed")[:3] == (1, len(runs) - 1, 0)
    assert batches.same_tables(out, folder / "whole")


def test_workers_apart_make_the_same_table_and_a_killed_scheduler_is_told(whole, tmp_path):
    runs, folder = whole
    plan = folder / "plan.yaml"
    with killing.cluster(tmp_path) as (programs, address):
        code, said, errors = killing.ended(killing.started(plan, folder / "apart", address))
        assert (code, errors) == (0, "")
        assert said["computed"] == len(runs)
        assert batches.same_tables(folder / "apart", folder / "whole")
        program = killing.started(plan, folder / "gone", address)
        killing.wait_for(lambda: killing.parts_of(folder / "gone") or program.poll() is not None)
        programs[0].kill()
        code, said, errors = killing.ended(program)
    assert code in (0, 2), errors  # the last part may have been there already
    if code:
        assert f"scheduler {address}: got no answer any more" in errors
        assert "give the same command again: every part written is kept." in errors
    told = killing.afterwards(runs, folder / "gone", folder / "whole")
    assert told["same"]
    assert told["each once"]


@pytest.mark.skipif(not KILLS, reason="only where YIELDKIT_KILLS says how many")
def test_kills_at_random_moments(tmp_path):
    lines = list(killing.kills(tmp_path, KILLS))
    assert len(lines) == KILLS
    assert [line for line in lines if line["wrong"]] == []
    assert [line for line in lines if line.get("said") and line["ended"] != 2] == []
    settled = [line for line in lines if "again" in line]
    assert all(line["same"] and line["each once"] for line in settled)
