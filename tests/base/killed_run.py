"""Puts a saved comparison in place again and again in forked children, each killed elsewhere.

Run as a program: the folder, then the number of moments in time. One line of JSON per moment.
"""

import json
import os
import re
import signal
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import xarray as xr

from tests.base.killed_writer import child, die_at_call, timed
from yieldkit.base.files import RECORD, damaged, write_text
from yieldkit.base.staging import staged
from yieldkit.config.site.files import load_site
from yieldkit.study.results.comparison import COMPARE, COMPARE_PAGE, write_comparison
from yieldkit.study.simulation.period import Period

_PAGE_RUN = re.compile(r'<meta name="run" content="([^"]+)">')


def comparison(*names):
    """Return what a comparison of wirings of these names has to save."""
    time_of_steps = pd.date_range("2021-06-01", periods=48, freq="h")
    budget = xr.DataArray(np.arange(3.0), {"loss_step": ["a", "b", "c"]}, name="loss_budget")
    result = xr.Dataset({"p_ac": ("time", np.arange(48.0))}, {"time": time_of_steps})
    return SimpleNamespace(
        table=pd.DataFrame({"energy_kwh": 1.0}, index=pd.Index(names, name="wiring")),
        budgets=xr.concat([budget] * len(names), pd.Index(names, name="wiring")),
        results=tuple((name, result.assign(loss_budget=budget)) for name in names),
        best=names[0],
        verdict="one of them yields most",
        site=load_site(None),
        period=Period(1, 365.0, 1.0, (1.0,) * 12),
        remarks=(),
        assumptions=(),
        findings=(),
        asked=SimpleNamespace(details=None),
    )


def make(stage, *names):
    """Make a run's files aside: its results and a page."""
    write_comparison(comparison(*names), stage.folder, stage.run)
    page = f'<meta name="run" content="{stage.run}">' + "<p>row</p>" * 20_000
    write_text(stage.folder / COMPARE_PAGE, page)


def runs_found(folder):
    """Return the runs that the folder's files bear, whether it says that it is unfinished."""
    found, unfinished = set(), False
    for path in folder.iterdir():
        if path.name == RECORD or path.is_dir():
            continue
        if path.name.startswith("UNFINISHED"):
            unfinished = True
        elif path.suffix == ".nc":
            with xr.open_dataset(path, engine="h5netcdf") as result:
                found.add(str(result.attrs["run"]))
        elif path.suffix == ".csv":
            lines = path.read_text().splitlines()
            found |= {line.rsplit(",", 1)[1] for line in lines[1:]}
        elif path.suffix == ".json":
            found.add(json.loads(path.read_text())["run"])
        else:
            found.add(_PAGE_RUN.search(path.read_text())[1])
    return sorted(found), unfinished


def report(folder, pid, moment):
    """Print what a killed child left; return the same."""
    _, status = os.waitpid(pid, 0)
    runs, unfinished = runs_found(folder)
    line = {
        "moment": moment,
        "died": os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0,
        "runs": runs,
        "unfinished": unfinished,
        "damaged": damaged(folder),
        "files": sorted(path.name for path in folder.iterdir() if path.is_file()),
    }
    sys.stdout.write(json.dumps(line) + "\n")
    return line


def main():
    """Kill what puts a run in place at moments spread over its time, and at each of its calls."""
    folder, moments = Path(sys.argv[1]), int(sys.argv[2])
    kind = (COMPARE, (COMPARE_PAGE,))
    with staged(folder, *kind, "old") as old, staged(folder, *kind, "new") as new:
        make(old, "one plane per tracker", "lopsided")
        make(new, "east and west apart", "uneven")
        whole = timed(new.put)
        old.put()
        for number in range(-moments, 200):
            at_call = (lambda n=number: (die_at_call(n), new.put())) if number > 0 else new.put
            pid = child(at_call)
            if number <= 0:
                time.sleep(-number * whole / moments)
                os.kill(pid, signal.SIGKILL)
            line = report(folder, pid, number)
            if number > 0 and not line["died"]:
                break
            if line["runs"] != ["old"] or line["unfinished"]:
                old.put()


if __name__ == "__main__":
    main()
