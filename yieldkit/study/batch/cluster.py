"""Parts computed by Dask's workers: a bounded window of them, and what to do when one dies."""

from __future__ import annotations

import contextlib
import logging
import time
from collections import Counter
from collections.abc import Iterator
from functools import partial
from typing import Any

import dask
from distributed import Client, Future, LocalCluster, wait
from distributed.client import FuturesCancelledError
from distributed.comm.core import CommClosedError
from distributed.scheduler import KilledWorker

from yieldkit.base.errors import YieldkitError, refuse
from yieldkit.study.batch.connection import CLOSE_S, closed, connected, within
from yieldkit.study.batch.lost_workers import (
    refuse_gone,
    refuse_silent,
    refuse_unanswered,
    refuse_without_workers,
)
from yieldkit.study.batch.part import Done, Part, failed_part
from yieldkit.study.batch.worker import on_worker
from yieldkit.study.batch.worker_versions import other_versions, own_versions

MOST_IN_FLIGHT = 1_000
"""Parts handed out at most, so that neither client nor scheduler holds a large plan."""
_PARTS_A_WORKER = 4
ANSWER_S = 30.0
"""How long a scheduler may take to answer [s]."""
WORKER_S = 30.0
"""How long a scheduler may be without any worker before the batch begins [s]."""
AWAY_S = 90.0
"""How long it may be without one later [s]: one that died starts anew, slowly on a busy machine."""
SILENT_S = 1_800.0
"""How long nothing may come back while workers are there [s]; a part takes a second or two."""
_LOOK_S = 1.0
_KILLS = 2
"""A run whose part has killed its worker so often is a failed row."""
_REVIVE_S = 20.0
_STARTS = 3
_UNWATCHED = {
    "distributed.worker.profile.enabled": False,
    "distributed.admin.system-monitor.interval": "5s",
}
"""Nobody looks at profiles of workers that live as long as a batch, and they cost time."""
_ENVIRONMENT = "distributed.nanny.pre-spawn-environ"
_SPAWNED = {
    "DASK_LOGGING__DISTRIBUTED": "critical",
    "MALLOC_TRIM_THRESHOLD_": "134217728",
    "MALLOC_MMAP_THRESHOLD_": "33554432",
}
"""For the processes that start. What is to be known of one that died is told here; and memory that
a run lets go of stays for the next, where Dask would have it given back after each array [byte]."""
_NO_LOGS = 60
"""A level above all others: what is to be known of workers is told here."""


@contextlib.contextmanager
def local_client(workers: int) -> Iterator[Client]:
    """Give a client of processes on this machine, one thread each; they end with it.

    Parameters
    ----------
    workers : int
        How many.
    """
    cluster = _started(workers)
    try:
        client = Client(cluster, timeout=ANSWER_S, set_as_default=False)
        try:
            yield client
        finally:
            closed(client)
    finally:
        cluster.close(timeout=CLOSE_S)


def _started(workers: int) -> LocalCluster:
    """Start processes; one that is ended while it starts takes the others with it."""
    for _ in range(_STARTS):
        try:
            environment = dask.config.get(_ENVIRONMENT) | _SPAWNED
            with dask.config.set({**_UNWATCHED, _ENVIRONMENT: environment}):
                return LocalCluster(
                    n_workers=workers,
                    threads_per_worker=1,
                    processes=True,
                    dashboard_address="127.0.0.1:0",
                    silence_logs=_NO_LOGS,
                    # A part whose worker dies comes back at once: what then is decided here.
                    scheduler_kwargs={"allowed_failures": 0, "dashboard": False},
                )
        except (RuntimeError, TimeoutError) as error:
            last = error
    refuse(
        f"{workers} processes on this machine",
        f"processes that end while they start ({_first_line(last)})",
        "room for so many processes",
        remedy="Give fewer with --workers; 1 computes in this process.",
    )


@contextlib.contextmanager
def client_of(scheduler: str) -> Iterator[Client]:
    """Give a client of a running scheduler whose workers are as this process is.

    Parameters
    ----------
    scheduler : str
        Its address.

    Raises
    ------
    InputError
        If it doesn't answer, has no worker, or one of another version.
    """
    # What is lost is told here, in a sentence of ours.
    logging.getLogger("distributed").setLevel(_NO_LOGS)
    try:
        client = connected(scheduler, ANSWER_S)
    except (OSError, ValueError, TypeError) as error:
        refuse_unanswered(scheduler, ANSWER_S, _first_line(error))
    try:
        try:
            client.wait_for_workers(1, timeout=WORKER_S)
        except (TimeoutError, OSError):
            refuse_without_workers(scheduler, WORKER_S)
        try:
            found = within(ANSWER_S, partial(client.run, own_versions, on_error="return"))
        except TimeoutError:
            refuse_without_workers(scheduler, WORKER_S)
        other = other_versions(found)
        if other:
            refuse(
                f"scheduler {scheduler}",
                other,
                "the same versions on every worker as here, for the same results",
                remedy="Install the same environment on all of them.",
            )
        yield client
    finally:
        closed(client)


def computed_by_workers(client: Client, parts: Iterator[Part], where: str) -> Iterator[Done]:
    """Give what is told of each part as workers finish them.

    Parameters
    ----------
    client : Client
        Of the workers.
    parts : iterator of Part
        Asked for the next only when there is room in the window.
    where : str
        What messages call the workers.

    Raises
    ------
    InputError
        If the scheduler is gone, has no worker any more, or nothing comes back.
    OSError
        If a worker could not write.
    """
    window = _Window(client, where)
    try:
        while window.fill(parts):
            for part, outcome in window.finished():
                if isinstance(outcome, Done):
                    yield outcome
                else:
                    window.died(part, outcome)
        for part in window.suspects:
            yield from _alone(window, part)
    except (CommClosedError, FuturesCancelledError):
        refuse_gone(where)
    finally:
        window.cancel()


class _Window:
    """Parts in flight."""

    def __init__(self, client: Client, where: str):
        self.client, self.where = client, where
        self.flying: dict[Future[Any], Part] = {}
        self.again: list[Part] = []
        self.suspects: list[Part] = []
        self._deaths: Counter[str] = Counter()
        self._numbered = 0

    def fill(self, parts: Iterator[Part]) -> bool:
        """Hand out parts as long as there is room; return whether any are in flight."""
        while len(self.flying) < min(MOST_IN_FLIGHT, _PARTS_A_WORKER * max(self.workers(), 1)):
            part = self.again.pop() if self.again else next(parts, None)
            if part is None:
                break
            self.submit(part)
        return bool(self.flying)

    def submit(self, part: Part) -> None:
        """Hand out a part."""
        self._numbered += 1
        key = f"part-{part.runs[0].name}-{self._numbered}"
        self.flying[self.client.submit(on_worker, part, key=key, pure=False)] = part

    def workers(self) -> int:
        """Return how many workers there are now."""
        return len(self.client.scheduler_info(n_workers=-1)["workers"])

    def finished(self) -> Iterator[tuple[Part, Done | KilledWorker]]:
        """Wait for parts to come back, and give them with what is told of them."""
        for future in self._done():
            part = self.flying.pop(future)
            outcome = self._outcome(future)
            if outcome is None:  # its worker died with the answer, and it is computed again
                self.flying[future] = part
            else:
                yield part, outcome

    def _outcome(self, future: Future[Any]) -> Done | KilledWorker | None:
        """Return what is told of a part; None if that is on its way once more."""
        if future.status == "cancelled":
            refuse_gone(self.where)
        if future.status not in ("finished", "error"):
            return None  # a worker died with the answer just now: "lost", then "pending" again
        try:
            told: Done = future.result(timeout=ANSWER_S)
        except KilledWorker as error:
            return error
        except TimeoutError:
            return None
        except Exception as error:
            raise _as_told(error, self.where) from None
        return told

    def _done(self) -> set[Future[Any]]:
        """Return futures that are done; wait no longer than workers may be silent or away."""
        began = there = time.monotonic()
        while True:
            with contextlib.suppress(TimeoutError), self.client.as_current():
                return set(wait(list(self.flying), _LOOK_S, "FIRST_COMPLETED").done)
            if self.client.status != "running":
                refuse_gone(self.where)
            now = time.monotonic()
            there = now if self.workers() else there
            if now - there > _REVIVE_S and self.client.cluster is not None:
                # One that is ended while it starts anew stays away unless it is asked for.
                self.client.cluster.scale(len(self.client.cluster.worker_spec))
            if now - there > AWAY_S:
                refuse_without_workers(self.where, AWAY_S)
            if now - began > SILENT_S:
                refuse_silent(self.where, SILENT_S)

    def died(self, part: Part, error: KilledWorker) -> None:
        """Take in that a worker died with a part: try it again, and after that run by run."""
        key = part.runs[0].name
        self._deaths[key] += 1 + error.allowed_failures
        if self._deaths[key] < _KILLS:
            self.again.append(part)
        else:
            self.suspects += [part._replace(runs=(run,)) for run in part.runs]

    def cancel(self) -> None:
        """Call back what is in flight."""
        with contextlib.suppress(Exception):  # the scheduler may be gone
            within(CLOSE_S, partial(self.client.cancel, list(self.flying), force=True))


def _alone(window: _Window, part: Part) -> Iterator[Done]:
    """Compute a run that was there when workers died, with no other beside it to blame."""
    kills = 0
    while kills < _KILLS:
        window.submit(part)
        for _, outcome in window.finished():
            if isinstance(outcome, Done):
                yield outcome
                return
            kills += 1 + outcome.allowed_failures
    yield failed_part(
        part,
        f"Its worker died {kills} times while computing it: not enough memory for it there, or "
        "an error of ours.",
    )


def _as_told(error: BaseException, where: str) -> BaseException:
    """Return an error of a worker as it is told here."""
    if isinstance(error, OSError | YieldkitError):
        return error
    return RuntimeError(f"{where}: {type(error).__name__}: {error}")


def _first_line(error: BaseException) -> str:
    lines = str(error).splitlines()
    return lines[0][:200] if lines else type(error).__name__
