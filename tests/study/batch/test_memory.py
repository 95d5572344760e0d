"""Thousands of runs: what workers and client hold doesn't grow, and parts stay few."""

import threading
import time

import psutil
import pytest

from tests.amounts import LONG
from tests.study.batch import batches, killing
from yieldkit.study.batch.runs import runs_of

pytestmark = pytest.mark.slow
MANY = batches.SMALL.replace(
    "values: [20, 28, 35]", "range: {first: 10, last: 45, count: 100}"
).replace("values: [6, 18, 40]", "range: {first: 5, last: 50, count: 10}")
"""4,000 runs."""


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


@pytest.mark.skipif(not LONG, reason="takes minutes")
def test_memory_stays_as_it_is_through_thousands_of_runs(tmp_path):
    batches.put_site(tmp_path)
    plan = batches.put_plan(tmp_path, MANY)
    number = len(runs_of(plan))
    assert number == 4000
    program = killing.started(plan, tmp_path / "out", 2)
    watched = Watched(program)
    code, said, errors = killing.ended(program)
    assert (code, errors, said["computed"]) == (0, "", number)
    assert killing.parts_of(tmp_path / "out") <= number / 20
    assert max(watched.client) < 350e6
    busy = [seen for seen in watched.workers.values() if len(seen) > 50]
    assert len(busy) == 2
    for seen in busy:
        held = [rss for _, rss in seen]
        assert max(held) < 700e6
        # The first third fills what is kept; from there on nothing is added.
        third = len(held) // 3
        assert middle(held[2 * third :]) < 1.05 * middle(held[third : 2 * third])
