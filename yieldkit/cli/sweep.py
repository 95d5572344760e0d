"""The command that runs a plan of what-if runs."""

from __future__ import annotations

import logging
import time
from argparse import Namespace
from pathlib import Path

import yieldkit
from yieldkit.base.compiling import announced_compiling
from yieldkit.base.errors import refuse
from yieldkit.base.files import write_text
from yieldkit.base.progress import time_left
from yieldkit.base.shipped import shipped
from yieldkit.cli.speech import Bars, caution, note, say, terminal_width
from yieldkit.cli.stoppable import StoppableBars
from yieldkit.config.plan.file import EXAMPLE, example_text
from yieldkit.report.tables.terminal_batch import (
    explanation_text,
    first_runs_text,
    how_far_text,
    plan_text,
    summary_text,
)
from yieldkit.study.batch.combined import Runs
from yieldkit.study.batch.explained import COLUMNS, explained, run_named
from yieldkit.study.batch.kept import hourly_bytes
from yieldkit.study.batch.runs import runs_of
from yieldkit.study.batch.store import Store
from yieldkit.study.batch.sweep import AGAIN, Summary
from yieldkit.study.batch.sweep import sweep as sweep_runs

DONE, PARTLY_FAILED, INTERRUPTED = 0, 3, 130
_MOST_RUNS = 100_000
_TELL_EVERY_S = 30.0
_MB = 1e6


@announced_compiling(note)
def sweep(options: Namespace) -> int:
    """Run a plan into a folder; return 3 when some of its runs failed."""
    if options.example is not None:
        return _example(Path(options.example))
    _refuse_options(options)
    if options.plan is None:
        note("No plan given: using the example's, for the demonstration site (invented).")
    with Bars() as bars:
        runs = runs_of(options.plan or shipped("site_configs", EXAMPLE), bars.show)
    if options.explain is not None:
        return _explain(options, runs)
    store = None if options.out is None else Store(options.out)
    say(plan_text(runs, None if store is None else store.known(), terminal_width()))
    caution(runs.cautions)
    if options.dry_run:
        say(f"\n{first_runs_text(runs, terminal_width())}")
        return DONE
    if len(runs) > _MOST_RUNS and not options.yes:
        refuse(
            "the plan",
            f"{len(runs):,} runs",
            f"at most {_MOST_RUNS:,} without --yes",
            remedy="Count them with --dry-run first; with --yes they are run",
        )
    if store is None:
        refuse("--out", "no folder", "a folder for the results", remedy="Name one: --out DIR")
    if runs.keep.hourly:
        size = hourly_bytes(runs) / _MB
        note(f"Every step of {len(runs.keep.hourly)} variables is kept: about {size:,.0f} MB.")
    return _run(options, runs)


def _run(options: Namespace, runs: Runs) -> int:
    only = None if options.only is None else run_named(runs, options.only).name
    with _Told() as told:
        done = sweep_runs(
            runs,
            options.out,
            scheduler=options.scheduler,
            workers=options.workers,
            progress=told.show,
            again=options.again,
            only=only,
        )
    say(f"\n{summary_text(_counts(done), done.seconds, options.out, terminal_width())}")
    if told.stopped:
        note("Stopped: what was computed is kept. The same command goes on from there.")
        return INTERRUPTED
    if options.report:
        note("Making the report (less than a minute).")
        say(f"Report: {_report(options)}")
    return PARTLY_FAILED if done.failed else DONE


def _counts(done: Summary) -> dict[str, int]:
    return {
        "computed": done.computed,
        "reused": done.reused,
        "failed": done.failed,
        "left out": done.left_out,
    }


def _refuse_options(options: Namespace) -> None:
    """Refuse values of options that mean nothing."""
    if options.workers is not None and options.workers < 1:
        refuse("--workers", f"{options.workers}", "a number of processes, at least 1")
    if options.workers is not None and options.scheduler is not None:
        refuse("--workers", "a scheduler beside it (--scheduler)", "one of the two")
    if options.again not in (None, AGAIN):
        refuse("--again", f"'{options.again}'", f"'{AGAIN}': runs that failed")
    if options.report and "://" in str(options.out):
        refuse("--report", f"a folder at the address {options.out}", "a folder on this computer")


def _example(path: Path) -> int:
    """Write a commented plan; an existing file is not touched."""
    if path.exists():
        refuse(str(path), "a file that exists", "a new name", remedy="Name another file.")
    write_text(path, example_text(), record=False)
    say(f"Wrote {path}, a plan for the demonstration site. Edit it, then count its runs:")
    say(f"yieldkit sweep {path} --out batch --dry-run")
    return DONE


def _explain(options: Namespace, runs: Runs) -> int:
    """Say what a run is, and why it is or isn't computed."""
    run = run_named(runs, options.explain)
    folder = options.out or ""
    rows = Store(folder).rows(COLUMNS) if folder else None
    say(explanation_text(explained(run, rows), folder, terminal_width()))
    return DONE


class _Told(StoppableBars):
    """How far a batch is: a bar with the time left on a terminal, else a line now and then."""

    def __init__(self) -> None:
        self._began = self._told = time.monotonic()
        self._first: int | None = None

    def show(self, word: str, done: int, every: int) -> bool:
        """Show how far it is, and tell whether to stop."""
        now = time.monotonic()
        self._first = done if self._first is None else self._first
        if self.quiet and now - self._told >= _TELL_EVERY_S:
            self._told = now
            left = time_left(done - self._first, every - self._first, now - self._began)
            note(how_far_text(word, done, every, left))
        return super().show(word, done, every)


def _report(options: Namespace) -> Path:
    """Make the page of a batch beside its tables."""
    logging.getLogger("asyncio").setLevel(logging.CRITICAL)
    folder = Path(options.out).resolve()
    with Bars() as bars:
        return yieldkit.run_report(
            "what_if.ipynb", {"folder": str(folder)}, folder, progress=bars.show
        )
