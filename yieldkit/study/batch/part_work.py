"""One part computed and written: what a worker does, in whichever process.

Who hands parts out doesn't load it, nor the solvers behind it: see `worker`.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Mapping
from functools import cache, partial
from pathlib import Path

from yieldkit.base.errors import InputError, refuse
from yieldkit.config.reading.parts import part as part_of
from yieldkit.config.site.site import Site
from yieldkit.study.batch.bases import Base
from yieldkit.study.batch.names import files_named, together
from yieldkit.study.batch.part import Done, Part, about
from yieldkit.study.batch.row_columns import Row, failed_row, with_status
from yieldkit.study.batch.rows import row_of
from yieldkit.study.batch.run import Run, site_of
from yieldkit.study.batch.series import series_of
from yieldkit.study.batch.shared import SharedWork
from yieldkit.study.batch.store import FAILED, Store
from yieldkit.study.simulation.simulate import Simulated, as_dataset


def computed_part(part: Part, work: SharedWork) -> Done:
    """Compute a part and write it.

    Parameters
    ----------
    part : Part
        The part.
    work : SharedWork
        What was computed before.

    Raises
    ------
    OSError
        If it can't be written.
    """
    began = time.perf_counter()
    store = Store(part.folder)
    rows, series = [], []
    for run in part.runs:
        row, simulated = run_row(part.bases, run, work)
        rows.append(row)
        if simulated is not None and part.hourly:
            series.append((run.name, as_dataset(simulated)[list(part.hourly)]))
    if series:
        # Before the rows that name it, so that whoever finds a row finds its series.
        named = store.write_series(series_of(series))
        for row in rows:
            if row["status"] != FAILED:
                row["hourly"] = named
                row["hourly_variables"] = json.dumps(sorted(part.hourly))
    store.write(rows)
    failed = sum(row["status"] == FAILED for row in rows)
    return Done(len(rows), failed, time.perf_counter() - began)


def run_row(bases: Mapping[int, Base], run: Run, work: SharedWork) -> tuple[Row, Simulated | None]:
    """Return the row of a run, and the run simulated unless it failed.

    Parameters
    ----------
    bases : mapping
        The plan's sites.
    run : Run
        The run.
    work : SharedWork
        What was computed before.
    """
    simulated = None
    try:
        site = site_of(bases, run)
        _refuse_changed(site, run)
        simulated = work.simulated(site, site.wirings[0])
        used = together(simulated.prepared.weather.attrs["sha256"].split(", "))
        if used != dict(run.made_of)["weather"]:
            _refuse_file(run.weather_file)
        found = with_status(row_of(simulated))
    except InputError as error:
        simulated, found = None, failed_row(str(error))
    except OSError as error:
        simulated, found = None, failed_row(f"{error.filename}: can't be read ({error.strerror}).")
    except MemoryError:
        simulated, found = None, failed_row("Not enough memory for this run.")
    except Exception as error:  # one run's trouble is not that of the others
        simulated = None
        found = failed_row(f"An error of ours ({type(error).__name__}: {error}); please report it.")
    return {**about(run), **found}, simulated


def _refuse_changed(site: Site, run: Run) -> None:
    """Refuse to compute with a file that isn't what the run's name says."""
    content = site.model_dump()
    for what, said in run.made_of:
        place = tuple(what.split("."))
        if place[-1] != "file":
            continue
        (named,) = files_named(place, part_of(content, *place), site.folder, site.weather)
        if hashlib.sha256(named.read_bytes()).hexdigest() != said:
            _refuse_file(named)


def _refuse_file(file: Path) -> None:
    refuse(
        str(file),
        "another content than when the plan was read",
        "a file that stays as it is while runs are computed",
        remedy="Give the same command again.",
    )


@cache
def own_work() -> SharedWork:
    """Return what this process has computed before."""
    return SharedWork()


def computing() -> Callable[[Part], Done]:
    """Return what computes and writes parts in this process, keeping what it computed."""
    return partial(computed_part, work=SharedWork())
