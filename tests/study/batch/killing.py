"""Programs that compute a plan, and ends put to them: SIGKILL to client, worker, scheduler or all.

Run as a program with a folder and a number it makes that many kills in turn, each followed by the
same command again, and prints a line of JSON for each.
"""

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from contextlib import contextmanager
from pathlib import Path

import psutil
import pyarrow.parquet as pq

from tests.study.batch import batches
from yieldkit.study.batch.runs import runs_of
from yieldkit.study.batch.store import Store
from yieldkit.study.batch.sweep import sweep

ROOT = Path(__file__).parents[3]
PROGRAM = Path(__file__).with_name("sweeping.py")
LIMIT_S = 120.0
PLAN = batches.SMALL.replace(
    "values: [20, 28, 35]", "range: {first: 10, last: 45, count: 24}"
).replace("values: [6, 18, 40]", "values: [6, 12, 18, 30, 40]")
"""480 runs."""


def environment(**more):
    """Return the environment of a program: this checkout, and what else is set."""
    path = os.pathsep.join([*filter(None, [more.pop("PYTHONPATH", "")]), str(ROOT)])
    return {**os.environ, "PYTHONPATH": path, **more}


def started(plan, folder, by, **more):
    """Start the computing of a plan as a program of a session of its own."""
    return subprocess.Popen(
        [sys.executable, str(PROGRAM), str(plan), str(folder), str(by)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        env=environment(**more),
    )


def ended(program):
    """Return exit code, summary and what was said of a program that ends by itself."""
    try:
        out, said = program.communicate(timeout=LIMIT_S)
    except subprocess.TimeoutExpired:
        end_session(program)
        raise
    lines = out.splitlines()
    return program.returncode, json.loads(lines[-1]) if lines else None, said


def end_session(program):
    """End a program with all that it has started."""
    try:
        os.killpg(program.pid, signal.SIGKILL)
    except ProcessLookupError:
        return
    program.wait(LIMIT_S)
    for stream in (program.stdout, program.stderr):
        if stream:
            stream.close()


def workers_of(program):
    """Return the workers that a program, or a nanny, has started."""
    try:
        children = psutil.Process(program.pid).children(recursive=True)
        return [each for each in children if "spawn_main" in " ".join(each.cmdline())]
    except psutil.Error:
        return []


def listened_at(program):
    """Return the addresses at which a program and its workers can be reached."""
    found = set()
    for process in (psutil.Process(program.pid), *workers_of(program)):
        sockets = process.net_connections() if process.is_running() else []
        found |= {each.laddr.ip for each in sockets if each.status == "LISTEN"}
    return found


def parts_of(folder):
    """Return how many parts a folder has."""
    return len(list((Path(folder) / "parts").glob("*.parquet")))


def wait_for(what, limit_s=LIMIT_S):
    """Wait until something is true; return it."""
    end = time.monotonic() + limit_s
    while time.monotonic() < end:
        found = what()
        if found:
            return found
        time.sleep(0.02)
    raise TimeoutError(f"not within {limit_s:g} s")


def kill_worker(program, rng):
    """Kill one of a program's workers, if it has any; return whether it had."""
    workers = workers_of(program)
    if not workers:
        return False
    try:
        rng.choice(workers).kill()
    except psutil.Error:
        return False
    return True


@contextmanager
def cluster(folder, workers=2):
    """Give a scheduler with workers started apart: its process, and its address."""
    at = Path(folder) / "scheduler.json"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "env": environment()}
    dask = [sys.executable, "-m", "dask"]
    options = ["--scheduler-file", str(at), "--no-dashboard"]
    own = ["--host", "127.0.0.1", "--port", "0"]
    programs = [
        subprocess.Popen([*dask, "scheduler", *options, *own], start_new_session=True, **quiet)
    ]
    try:
        wait_for(lambda: at.is_file() and at.read_text().endswith("}"))
        apart = ["--nthreads", "1", "--local-directory", str(folder)]
        programs += [
            subprocess.Popen([*dask, "worker", *options, *apart], start_new_session=True, **quiet)
            for _ in range(workers)
        ]
        yield programs, json.loads(at.read_text())["address"]
    finally:
        for program in programs:
            end_session(program)


def killed_in_this_process(plan, folder, delay_s):
    """Compute in a fork of this process and kill it after a while; return whether it was killed."""
    pid = os.fork()
    if pid == 0:
        try:
            sweep(plan, folder, workers=1)
        finally:
            os._exit(0)
    time.sleep(delay_s)
    os.kill(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    return os.WIFSIGNALED(status)


def sound(folder):
    """Return what is wrong with a folder's parts: damaged, or rows of a run that differ."""
    seen, wrong = {}, []
    for path in sorted((Path(folder) / "parts").glob("*.parquet")):
        for row in pq.read_table(path).to_pylist():
            kept = {name: value for name, value in row.items() if value is not None}
            if seen.setdefault(row["run"], kept) != kept:
                wrong.append(f"{path.name}: another row of {row['run']}")
    aside = Path(folder) / "aside"
    return wrong + [str(path) for path in aside.glob("*")]


def moment(program, out, rng):
    """Wait for a random moment: while all starts, or when parts are being computed."""
    if rng.random() < 0.25:
        time.sleep(rng.uniform(0.0, 4.0))
        return
    before = parts_of(out)
    wait_for(lambda: parts_of(out) > before or program.poll() is not None)
    time.sleep(rng.uniform(0.0, 1.5))


def kill(kind, plan, out, folder, rng):
    """Compute a plan and kill a part of what computes it; return what is to be told of it."""
    if kind == "scheduler":
        folder.mkdir()
        with cluster(folder) as (programs, address):
            program = started(plan, out, address)
            moment(program, out, rng)
            programs[0].kill()
            code, _, said = ended(program)
        return {"ended": code, "said": said}
    program = started(plan, out, 2)
    moment(program, out, rng)
    if kind == "worker":
        hit = kill_worker(program, rng)
        code, _, said = ended(program)
        return {"hit": hit, "ended": code, "said": said}
    if kind == "tree":
        end_session(program)
        return {}
    workers = workers_of(program)
    program.kill()
    program.communicate(timeout=LIMIT_S)
    _, alive = psutil.wait_procs(workers, timeout=LIMIT_S)
    return {"still there": len(alive)}


def kills(folder, number, seed=1):
    """Kill one after the other, each time followed by the same again; yield what came of it."""
    rng = random.Random(seed)
    batches.put_site(folder)
    plan = batches.put_plan(folder, PLAN)
    runs = runs_of(plan)
    sweep(runs, folder / "whole", workers=1)
    out = folder / "out-0"
    for count in range(number):
        kind = ("client", "tree", "scheduler", "worker")[count % 4]
        line = {"kill": count, "of": kind, "before": parts_of(out)}
        line |= kill(kind, plan, out, folder / f"apart-{count}", rng)
        line |= {"left": parts_of(out), "wrong": sound(out)}
        if count % 4 == 3 or count == number - 1:
            line |= afterwards(runs, out, folder / "whole")
            out = folder / f"out-{count + 1}"
        yield line


def afterwards(runs, out, whole):
    """Give the same command again; return what it did, and whether the table is the right one."""
    said = sweep(runs, out, workers=1)
    names = Counter(Store(out).rows(["run", "status"])["run"].to_pylist())
    once = len(names) == len(runs) and set(names.values()) == {1}
    return {"again": said[:4], "same": batches.same_tables(out, whole), "each once": once}


if __name__ == "__main__":
    made = Path(sys.argv[1])
    made.mkdir(parents=True)
    for told in kills(made, int(sys.argv[2]), int(sys.argv[3]) if len(sys.argv) > 3 else 1):
        sys.stdout.write(json.dumps(told) + "\n")
        sys.stdout.flush()
