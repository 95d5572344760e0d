"""Kills whole commands at moments spread over the time in which they write.

Run as a program: the folder, `compare` or `propose`, the number of moments with a report and
without. One line of JSON for each moment, the first and the last of runs that nobody kills. The
commands run in forked children, which needn't import and compile again. By hand: 20 and 20.
"""

import contextlib
import json
import os
import signal
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from tests.base.killed_run import runs_found
from tests.base.killed_writer import child
from tests.config.small import mapping
from yieldkit.cli.main import main as yieldkit_main
from yieldkit.config.site.files import load_site
from yieldkit.study.comparison.compare import check, compare

OPTIONS = {"compare": [], "propose": ["--draws", "2", "--top", "3"]}


def small_site(folder):
    """Write a site with three summer days of weather into a folder; return its file."""
    times = pd.date_range("2021-06-20", periods=72, freq="h")
    height = np.clip(np.sin((times.hour + 0.5 - 5.2) / 15.0 * np.pi), 0.0, None)
    table = pd.DataFrame({"time": times.strftime("%Y-%m-%d %H:%M"), "ghi": 850.0 * height})
    table["dni"], table["dhi"] = 700.0 * (height > 0.1), 150.0 * height
    table["temp_air"], table["wind_speed"] = 20.0, 2.0
    table.round(1).to_csv(folder / "days.csv", index=False)
    content = mapping()
    content["weather"] = {
        "file": "days.csv",
        "format": "csv",
        "columns": {name: name for name in table.columns},
        "zone": "UTC+01:00",
        "sampling": "mean",
        "label": "start",
    }
    plain = content["wirings"][0]
    content["wirings"] = [plain, plain | {"name": "plain again"}]
    (folder / "site.yaml").write_text(json.dumps(content))
    return folder / "site.yaml"


def start(command, site, out, report):
    """Start a command in a child of its own; return the child's id."""
    given = [command, str(site), "--out", str(out), *OPTIONS[command]]

    def work():
        with open(os.devnull, "w") as nowhere, contextlib.redirect_stdout(nowhere):  # noqa: PTH123
            code = yieldkit_main(given if report else [*given, "--no-report"])
        os._exit(code)

    return child(work)


def ended(pid):
    """Return the code a child ended with, minus the signal that killed it; None while it runs."""
    done, status = os.waitpid(pid, os.WNOHANG)
    return os.waitstatus_to_exitcode(status) if done else None


def begins(out, pid):
    """Wait until a child writes, and return the time and its code if it ended before."""
    code = None
    while code is None and not any(out.glob(f".part-run-{pid}-*/*")):
        time.sleep(0.001)
        code = ended(pid)
    return time.perf_counter(), code


def left(out, temporary):
    """Return what lies in the folders: runs, sign, and what is temporary."""
    runs, unfinished = runs_found(out)
    return {
        "runs": runs,
        "unfinished": unfinished,
        "temporary": sorted(path.name for path in out.glob(".part-*"))
        + sorted(path.name for path in temporary.glob("yieldkit-*")),
        "files": sorted(path.name for path in out.iterdir() if path.is_file()),
    }


def whole(command, site, out, report):
    """Let a command end; return its exit code and for how long it wrote [s]."""
    pid = start(command, site, out, report)
    began, code = begins(out, pid)
    while code is None:
        time.sleep(0.001)
        code = ended(pid)
    return code, time.perf_counter() - began


def killed(command, site, out, report, wait):
    """Kill a command a while after it began to write; return how it ended."""
    pid = start(command, site, out, report)
    began, code = begins(out, pid)
    if code is None:
        time.sleep(max(0.0, began + wait - time.perf_counter()))
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        code = os.waitstatus_to_exitcode(status)
    return code


def main():
    """Let a command end, kill it at many moments, let it end again."""
    folder, command = Path(sys.argv[1]), sys.argv[2]
    out, temporary = folder / "out", folder / "temporary"
    for each in (out, temporary):
        each.mkdir(parents=True)
    tempfile.tempdir = os.environ["TMPDIR"] = str(temporary)
    site = small_site(folder)
    # What is loaded and compiled now need not be so again in every child.
    check(load_site(site))
    compare(load_site(site))
    for report, moments in zip((True, False), map(int, sys.argv[3:5]), strict=True):
        if not moments:
            continue
        # The first may compile what the others only load: the second tells how long they write.
        whole(command, site, out, report)
        code, lasted = whole(command, site, out, report)
        say({"report": report, "code": code, "lasted": lasted, **left(out, temporary)})
        for moment in range(moments):
            # A little beyond the end too: then a run may end before it is killed.
            wait = lasted * (moment + 0.5) / moments * 1.02
            code = killed(command, site, out, report, wait)
            say({"report": report, "code": code, "wait": wait, **left(out, temporary)})
    code, _ = whole(command, site, out, False)
    say({"report": False, "code": code, **left(out, temporary)})


def say(line):
    """Print a line of JSON at once."""
    sys.stdout.write(json.dumps(line) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
