"""Writes results again and again in forked children and kills each at another moment.

Run as a program: the folder, then the number of moments. One line of JSON per moment.
"""

import io
import json
import os
import signal
import sys
import time
from pathlib import Path

import numpy as np
import xarray as xr

from yieldkit.base import files as store

NAMES = [f"quantity_{number}" for number in range(4)]


def result(version):
    """Return a year of 4 quantities of 10 trackers whose every value tells the version."""
    hours = np.arange(8760.0)[:, None] % 97.0
    values = np.round(hours + np.arange(10.0)[None, :] + 1000.0 * version, 1)
    return xr.Dataset(dict.fromkeys(NAMES, (("time", "tracker"), values)))


def page(version):
    """Return a page that is whole only with its last line."""
    return f"<html>{version}" + "<p>row</p>" * 10_000 + f"{version}</html>"


def write(folder, version, dataset):
    """Write what a run leaves behind."""
    store.write_dataset(folder / "result.nc", dataset)
    store.write_text(folder / "report.html", page(version))


def version_found(folder):
    """Return the version of each file; raises if one opens and is not whole."""
    dataset = xr.load_dataset(io.BytesIO((folder / "result.nc").read_bytes()), engine="h5netcdf")
    version = int(dataset["quantity_0"][0, 0] // 1000)
    if not dataset.identical(result(version)):
        raise AssertionError("result.nc opens and is wrong")
    text = (folder / "report.html").read_text()
    of_page = int(text.removeprefix("<html>")[:1])
    if text != page(of_page):
        raise AssertionError("report.html opens and is wrong")
    return version, of_page


def die_at_call(number):
    """Let the process kill itself in its n-th call to the disk, a write when half is written."""
    calls = iter(range(1, 10_000))
    real_open, real_fsync, real_replace = io.open, os.fsync, os.replace
    real_unlink = os.unlink

    def due():
        return next(calls) == number

    def kill():
        os.kill(os.getpid(), signal.SIGKILL)

    class Stream:
        def __init__(self, stream):
            self._stream = stream

        def write(self, data):
            if due():
                self._stream.write(
                    (data if isinstance(data, str) else bytes(data))[: len(data) // 2]
                )
                self._stream.flush()
                kill()
            return self._stream.write(data)

        def __getattr__(self, name):
            return getattr(self._stream, name)

        def __enter__(self):
            return self

        def __exit__(self, *problem):
            self._stream.close()

    def opened(*given, **more):
        if due():
            kill()
        stream = real_open(*given, **more)
        return Stream(stream) if "x" in str(given) or "'a" in str(given) else stream

    def fsynced(handle):
        if due():
            kill()
        return real_fsync(handle)

    def replaced(*given):
        if due():
            kill()
        return real_replace(*given)

    def unlinked(*given):
        if due():
            kill()
        return real_unlink(*given)

    io.open, os.fsync, os.replace, os.unlink = opened, fsynced, replaced, unlinked


def child(work):
    """Fork, work, leave; return the child's id."""
    pid = os.fork()
    if pid == 0:
        work()
        os._exit(0)
    return pid


def timed(work):
    """Return how long a child takes to work [s]."""
    started = time.perf_counter()
    os.waitpid(child(work), 0)
    return time.perf_counter() - started


def main():
    """Kill a writer at moments spread over its time, and at each of its calls."""
    folder, moments = Path(sys.argv[1]), int(sys.argv[2])
    old, new = result(1), result(2)
    write(folder, 1, old)
    whole = min(timed(lambda: write(folder, 2, new)) for _ in range(3))
    write(folder, 1, old)
    for moment in range(moments):
        pid = child(lambda: write(folder, 2, new))
        time.sleep(whole * (moment + 0.5) / moments)
        os.kill(pid, signal.SIGKILL)
        left = report(folder, pid, f"time {moment}")
        if left["died"] == 0:
            whole *= 0.8  # It ended before: the machine has become quicker since that was taken.
        if left["versions"] != (1, 1):
            write(folder, 1, old)
    for number in range(1, 40):
        pid = child(lambda n=number: (die_at_call(n), write(folder, 2, new)))
        line = report(folder, pid, f"call {number}")
        if not line["died"]:
            break
        if line["versions"] != (1, 1):
            write(folder, 1, old)


def report(folder, pid, moment):
    """Print what a killed child left; return the same."""
    _, status = os.waitpid(pid, 0)
    died = os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
    line = {
        "moment": moment,
        "died": int(died),
        "versions": version_found(folder),
        "damaged": store.damaged(folder),
        "parts": len(list(folder.glob(".part-*"))),
    }
    sys.stdout.write(json.dumps(line) + "\n")
    return line


if __name__ == "__main__":
    main()
