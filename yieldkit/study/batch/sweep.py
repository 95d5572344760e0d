"""A plan's runs computed once each, in this process or by workers, and put into one table."""

from __future__ import annotations

import json
import os
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib import import_module
from itertools import chain
from pathlib import Path
from typing import NamedTuple

import pyarrow as pa

from yieldkit.base.errors import refuse
from yieldkit.base.private_folders import private_folder
from yieldkit.base.progress import Progress, silent
from yieldkit.base.staging import new_run, staged
from yieldkit.study.batch.combined import Runs
from yieldkit.study.batch.part import Done, Part
from yieldkit.study.batch.parts import Pace, cut
from yieldkit.study.batch.run import Run
from yieldkit.study.batch.runs import runs_of
from yieldkit.study.batch.store import FAILED, HOURLY, OK, Store
from yieldkit.study.batch.tables import NAMES, write_tables

_LATER = {
    "cluster": "yieldkit.study.batch.cluster",
    "part_work": "yieldkit.study.batch.part_work",
}
"""What is loaded where it is needed only: a second, and the memory of the solvers."""
AGAIN = "failed"
_SMALL_S = 20.0
"""What takes less than this in one process isn't worth starting others [s]."""
_MANY = 2_000
"""So many runs without a row take longer than that: none is tried in the process that hands out
parts, which then never holds solvers and weather."""
_MOST_HOURLY = 20
"""Runs of a part at most where every step is kept: what a worker holds until it is written."""


class Summary(NamedTuple):
    """What a call of `sweep` did.

    Parameters
    ----------
    computed : int
        Runs computed now, failures among them.
    reused : int
        Runs of the plan whose results were there already.
    failed : int
        Runs of the plan that failed, now or before.
    left_out : int
        Runs that the plan's conditions leave out.
    seconds : float
        How long it took [s].
    """

    computed: int
    reused: int
    failed: int
    left_out: int
    seconds: float


@dataclass
class _Asked:
    """What is to be done: the runs without a row, and how far it has come."""

    runs: Runs
    store: Store
    known: dict[str, str]
    tell: Progress
    only: str | None
    pace: Pace = field(default_factory=Pace)
    passed: int = 0
    computed: int = 0
    stopped: bool = False

    def waiting(self) -> Iterator[Run]:
        """Give the runs without a row, each name once, in the order of what they share."""
        given: set[str] = set()
        for run in self.runs.in_order():
            if self.stopped:
                return
            if self.only not in (None, run.name):
                continue
            if run.name in self.known or run.name in given:
                self.passed += 1
                continue
            given.add(run.name)
            yield run

    def parts(self) -> Iterator[Part]:
        """Give the waiting runs as parts."""
        hourly = tuple(self.runs.keep.hourly)
        most = _MOST_HOURLY if hourly else 100_000
        for chosen in cut(self.waiting(), self.pace, most):
            bases = {run.base: self.runs.bases[run.base] for run in chosen}
            yield Part(self.store.folder, chosen, bases, hourly)

    def take(self, done: Done) -> None:
        """Count a part that is done, and tell of it."""
        self.computed += done.runs
        if done.seconds > 0.0:
            self.pace.learn(done.runs, done.seconds)
        if self.tell("runs", self.passed + self.computed, len(self.runs)):
            self.stopped = True


def sweep(
    plan: str | Path | Runs,
    folder: str | Path,
    scheduler: str | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
    again: str | None = None,
    only: str | None = None,
) -> Summary:
    """Compute the runs of a plan that a folder lacks, and write the plan's tables.

    Whoever stops it loses the parts under way, a second or two of work for each worker; the same
    call goes on from there. A folder serves several plans and several calls at once.

    Parameters
    ----------
    plan : str, Path or Runs
        A plan file, or its runs.
    folder : str or Path
        Where parts and tables are kept: a path, or an address of a store that fsspec reaches.
    scheduler : str, optional
        Address of a running Dask scheduler, such as "tcp://10.0.0.5:8786", whose workers compute.
    workers : int, optional
        Processes on this machine; 1 computes in this one. Left out, a small plan is computed in
        this process and a large one by as many as there are cores. A script that starts
        processes has to keep its own work under ``if __name__ == "__main__":``.
    progress : callable, optional
        Called with "runs", how many are there and how many there are in the plan; a true answer
        stops the work, and what is computed so far is in the tables.
    again : str, optional
        "failed" computes failed runs again.
    only : str, optional
        Name of a run, or its beginning: no other run is computed.

    Returns
    -------
    Summary
        How many were computed, reused, left out, and failed. A run that fails is a row with what
        went wrong.

    Raises
    ------
    InputError
        For a plan that is refused, a folder that can't be written to, no such run, or a scheduler
        that doesn't answer or whose workers are of another version.
    """
    began = time.perf_counter()
    if again not in (None, AGAIN):
        refuse("again", f"'{again}'", f"'{AGAIN}', or nothing")
    runs = plan if isinstance(plan, Runs) else runs_of(plan)
    store = Store(folder)
    chosen = None if only is None else _the_run(runs, only)
    try:
        with _sparing_tables():
            store.open()
            known = _reusable(store, runs.keep.hourly, again)
            asked = _Asked(runs, store, known, progress or silent, chosen)
            _compute(asked, scheduler, workers)
            failed = _write_tables(asked)
    except OSError as error:
        _refuse_disk(store.folder, error)
    return Summary(
        asked.computed,
        asked.passed,
        failed,
        runs.left_out,
        time.perf_counter() - began,
    )


@contextmanager
def _sparing_tables() -> Iterator[None]:
    """Have the memory of tables given back at once: the library's own keeper holds on to it."""
    usual = pa.default_memory_pool()
    pa.set_memory_pool(pa.system_memory_pool())
    try:
        yield
    finally:
        pa.set_memory_pool(usual)


def _compute(asked: _Asked, scheduler: str | None, workers: int | None) -> None:
    """Compute what is waiting: here, and what is too much for that by workers."""
    parts = _with_first(asked.parts())
    if parts is not None and scheduler is None and workers in (None, 1):
        cores = _cores() if workers is None else 1
        if cores == 1 or len(asked.runs) - len(asked.known) < _MANY:
            _here(asked, parts, lambda: cores > 1 and _left_s(asked) > _SMALL_S)
            parts = _with_first(parts)
        workers = cores
    if parts is None:
        return
    where = f"scheduler {scheduler}" if scheduler else "this machine's workers"
    cluster = import_module(_LATER["cluster"])
    clients = cluster.client_of(scheduler) if scheduler else cluster.local_client(workers)
    with clients as client:
        for done in cluster.computed_by_workers(client, parts, where):
            asked.take(done)


def _with_first(parts: Iterator[Part]) -> Iterator[Part] | None:
    """Return parts that are left to do, or None where there is none."""
    first = next(parts, None)
    return None if first is None else chain([first], parts)


def _here(asked: _Asked, parts: Iterator[Part], enough: Callable[[], bool]) -> None:
    """Compute parts in this process until there are no more, or it is enough."""
    computed = import_module(_LATER["part_work"]).computing()
    for part in parts:
        asked.take(computed(part))
        if enough():
            return


def _left_s(asked: _Asked) -> float:
    """Return how long what is left would take in one process [s]."""
    left = len(asked.runs) - asked.passed - asked.computed
    return left * asked.pace.run_s


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _the_run(runs: Runs, only: str) -> str:
    """Return the name of the one run that begins so."""
    names = {run.name for run in runs if run.name.startswith(only)}
    if len(names) != 1:
        found = f"{len(names)} runs" if names else "no run"
        refuse(
            "run",
            f"'{only}', as which {found} of the plan begin{'' if names else 's'}",
            "the name of one run, or as much of it as tells it from others",
            remedy="Names stand in the column run of the tables.",
        )
    return names.pop()


def _reusable(store: Store, hourly: Sequence[str], again: str | None) -> dict[str, str]:
    """Return the runs that needn't be computed, and the status of their rows."""
    found: dict[str, str] = {}
    sound: dict[str, bool] = {}
    columns = ("run", "status", "hourly", "hourly_variables")
    for table in store.tables(columns=columns):
        for row in table.to_pylist():
            if row["status"] == FAILED and again == AGAIN:
                continue
            if row["status"] == OK and hourly:
                named, said = row.get("hourly"), json.loads(row.get("hourly_variables") or "[]")
                if named is None or not set(hourly) <= set(said):
                    continue
                if named not in sound:
                    sound[named] = store.table(HOURLY, named) is not None
                if not sound[named]:
                    continue
            if found.get(row["run"]) != OK:
                found[row["run"]] = row["status"]
    return found


def _write_tables(asked: _Asked) -> int:
    """Write the plan's tables; return how many of its runs failed."""
    rows, batch = asked.store.rows(), new_run()
    if asked.store.local:
        with staged(asked.store.root, "sweep", run=batch) as stage:
            failed = write_tables(asked.runs, rows, batch, stage.folder)
            stage.put()
        return failed
    with private_folder(tempfile.gettempdir(), "yieldkit-") as work:
        failed = write_tables(asked.runs, rows, batch, work)
        for name in NAMES:
            asked.store.put(name, (Path(work) / name).read_bytes())
    return failed


def _refuse_disk(folder: str, error: OSError) -> None:
    """Say that the folder can't be written to, or read, and that nothing is lost."""
    refuse(
        folder,
        f"a store that refuses ({error.strerror or error})",
        "a folder that can be read and written, with room",
        remedy="Mend that and give the same command again: every part written is kept.",
    )
