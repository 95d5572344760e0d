"""Thousands of runs: what workers and client hold doesn't grow, and parts stay few."""

import contextlib
import subprocess
import sys
import threading
import time
from importlib import import_module

import psutil
import pytest

from tests.amounts import LONG
from tests.study.batch import batches, killing
from yieldkit.study.batch import part_work
from yieldkit.study.batch.runs import runs_of

pytestmark = pytest.mark.slow
MANY = batches.SMALL.replace(
    "values: [20, 28, 35]", "range: {first: 10, last: 45, count: 100}"
).replace("values: [6, 18, 40]", "range: {first: 5, last: 50, count: 10}")
"""4,000 runs."""
batch = import_module("yieldkit.study.batch.sweep")


class Watched:
    """The memory of a program and of its workers, looked at ten times a second."""

    def __init__(self, program):
        self.program = program
        self.client, self.workers = [], {}
        threading.Thread(target=self.look, daemon=True).start()

    def look(self):
        """Note what is held, with the time."""
        while self.program.poll() is None:
            try:
                now = time.monotonic()
                self.client.append(psutil.Process(self.program.pid).memory_info().rss)
                for worker in killing.workers_of(self.program):
                    seen = self.workers.setdefault(worker.pid, [])
                    seen.append((now, worker.memory_info().rss))
            except psutil.Error:
                pass
            time.sleep(0.1)


def middle(values):
    """Return the median."""
    return sorted(values)[len(values) // 2]


LOADED = """
import sys
import yieldkit.cli.sweep, yieldkit.study.batch.cluster
from yieldkit.study.batch.runs import runs_of
next(iter(runs_of(sys.argv[1])))
sys.stdout.write(" ".join(sorted({"numba", "llvmlite", "dask.array"} & set(sys.modules))))
"""


def test_who_hands_parts_out_holds_neither_the_solvers_nor_their_compiler(tmp_path):
    batches.put_site(tmp_path)
    plan = batches.put_plan(tmp_path, MANY)
    asked = [sys.executable, "-c", LOADED, str(plan)]
    done = subprocess.run(
        asked, capture_output=True, text=True, check=True, timeout=60, env=killing.environment()
    )
    assert done.stdout == ""


def test_a_plan_of_thousands_of_runs_is_handed_out_from_the_first_on(tmp_path, monkeypatch):
    batches.put_site(tmp_path)
    runs = runs_of(batches.put_plan(tmp_path, batches.SMALL))
    monkeypatch.setattr(batch, "_MANY", len(runs))
    monkeypatch.setattr(batch, "_cores", lambda: 2)
    asked = []

    class Workers:
        """No workers at all: what is handed out is counted and done here."""

        @contextlib.contextmanager
        def local_client(self, workers):
            """Give no client."""
            yield workers

        def computed_by_workers(self, client, parts, where):
            """Count the runs handed out."""
            compute = part_work.computing()
            for part in parts:
                asked.extend(part.runs)
                yield compute(part)

    loads = {"yieldkit.study.batch.cluster": Workers()}
    monkeypatch.setattr(batch, "import_module", loads.__getitem__)
    assert batch.sweep(runs, tmp_path / "out").computed == len(asked) == len(runs)
    again = batch.sweep(runs, tmp_path / "out")
    assert (again.computed, again.reused) == (0, len(runs))


@pytest.mark.skipif(not LONG, reason="takes minutes")
@pytest.mark.parametrize("by", [2, "cores"])
def test_memory_stays_as_it_is_through_thousands_of_runs(tmp_path, by):
    batches.put_site(tmp_path)
    plan = batches.put_plan(tmp_path, MANY)
    number = len(runs_of(plan))
    assert number == 4000
    program = killing.started(plan, tmp_path / "out", by)
    watched = Watched(program)
    code, said, errors = killing.ended(program)
    assert (code, errors, said["computed"]) == (0, "", number)
    assert killing.parts_of(tmp_path / "out") <= number / 20
    assert max(watched.client) < 350e6, max(watched.client)
    busy = [seen for seen in watched.workers.values() if len(seen) > 50]
    assert len(busy) == 2
    for seen in busy:
        held = [rss for _, rss in seen]
        assert max(held) < 700e6
        # The first third fills what is kept; from there on nothing is added.
        third = len(held) // 3
        assert middle(held[2 * third :]) < 1.05 * middle(held[third : 2 * third])
