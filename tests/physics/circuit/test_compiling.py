"""The cache of compiled functions: never stale, not needed, safe in threads and forks."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house.layers import PACKAGE

pytestmark = pytest.mark.slow

PROGRAM = """
import numpy as np
from yieldkit.physics.circuit.components import Breakdown, Bypass, ReversePath
from yieldkit.physics.circuit.diode import Diode, cell_current
reverse = ReversePath(Bypass(1e-6, 0.0287), Breakdown(0.0, -1.0, 1.0))
diode = Diode(9.0, 1e-10, 0.1, 100.0, 1.5)
print(repr(float(cell_current(20.0, diode, reverse.breakdown)[0])))
from yieldkit.physics.circuit.junction import junction_at_voltage
print(repr(float(junction_at_voltage(15.0, diode, reverse.breakdown, np.nan)[0])))
"""


def run(program, folder, cache, **variables):
    """Run a program that imports the package of a folder."""
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder), "YIELDKIT_CACHE": str(cache), **variables},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout, done.stderr


def test_an_edited_helper_changes_the_answer_with_an_old_cache(tmp_path):
    tree = tmp_path / "yieldkit"
    shutil.copytree(PACKAGE, tree, ignore=shutil.ignore_patterns("__pycache__"))
    cache = tmp_path / "cache"
    before, _ = run(PROGRAM, tmp_path, cache)
    again, _ = run(PROGRAM, tmp_path, cache)
    assert again == before
    helper = tree / "physics" / "circuit" / "diode.py"
    text = helper.read_text()
    assert text.count("shunt = vd * per_rsh\n") == 1
    helper.write_text(text.replace("shunt = vd * per_rsh\n", "shunt = 2.0 * vd * per_rsh\n"))
    after, _ = run(PROGRAM, tmp_path, cache)
    # The caller lives in another file, which didn't change.
    assert after.splitlines()[1] != before.splitlines()[1]
    assert after.splitlines()[0] != before.splitlines()[0]
    rooms = [folder.name.rpartition("-")[0] for folder in cache.iterdir()]
    assert rooms.count("yieldkit.physics.circuit.junction") == 2
    assert rooms.count("yieldkit.physics.circuit.exponential") < 2


def test_a_second_copy_of_the_same_sources_compiles_nothing(tmp_path):
    program = PROGRAM + "print(sum(junction_at_voltage.stats.cache_misses.values()))\n"
    program += "print(sum(cell_current.stats.cache_hits.values()))\n"
    cache = tmp_path / "cache"
    first, _ = run(program, PACKAGE.parent, cache)
    shutil.copytree(PACKAGE, tmp_path / "yieldkit", ignore=shutil.ignore_patterns("__pycache__"))
    second, _ = run(program, tmp_path, cache)
    assert first.splitlines()[:2] == second.splitlines()[:2]
    assert first.splitlines()[2:] == ["1", "0"]
    assert second.splitlines()[2:] == ["0", "1"]


def test_without_a_writable_folder_it_still_works_and_says_so_once(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("no folder")
    program = (
        "import logging; logging.basicConfig(level=logging.DEBUG)\n"
        "logging.getLogger('numba').setLevel(logging.WARNING)\n" + PROGRAM
    )
    _out, said = run(
        program, PACKAGE.parent, blocked / "cache", XDG_CACHE_HOME=str(blocked / "other")
    )
    assert said.count("no writable cache folder") == 1


def test_importing_compiles_nothing(tmp_path):
    program = (
        "import yieldkit, yieldkit.physics.circuit.api as c, yieldkit.physics.circuit.diode as d\n"
        "from yieldkit.physics.circuit.operating_step import limit_steps\n"
        "print(len(d.cell_current.signatures), len(limit_steps.signatures))"
    )
    out, _ = run(program, PACKAGE.parent, tmp_path / "cache")
    assert out.split() == ["0", "0"]
    assert not list((tmp_path / "cache").rglob("*.nb?"))


FORMS = """
import sys
import numpy as np
from tests.physics.circuit.reference import conditions_at
from yieldkit.physics.circuit.api import (
    CellConditions, Run, StringCircuit, TrackerLimits, group_maxima, operating_point
)
lights = conditions_at(np.linspace(1.0, 1000.0, 40)[:, None] * [1.0, 0.9], np.full((40, 2), 30.0))
turned = CellConditions(*(np.asfortranarray(part) for part in lights))
even, mixed = StringCircuit((Run(0, 30),)), StringCircuit((Run(0, 20), Run(1, 10)), 0.2)
tight = TrackerLimits(v_mpp_min=300.0, v_start=350.0, p_start=10.0)
for conditions in (lights, turned):
    group_maxima(conditions)
    for strings in ((even,), (mixed,), (even, mixed)):
        for limits in (TrackerLimits(), tight, tight._replace(global_search=False)):
            bound = np.full(40, 500.0)
            operating_point(conditions, strings, limits, power_bound=bound)
kernels = {
    (name, word): len(each.signatures)
    for name, room in list(sys.modules.items()) if name.startswith("yieldkit.physics.circuit")
    for word, each in vars(room).items() if hasattr(each, "signatures")
}
print(sum(number > 0 for number in kernels.values()) > 5)
print([kernel for kernel, number in kernels.items() if number > 1])
"""


def test_no_kernel_has_two_forms():
    cache = os.environ.get("YIELDKIT_CACHE", str(Path("~/.cache/yieldkit").expanduser()))
    out, _ = run(FORMS, PACKAGE.parent, cache)
    assert out.splitlines() == ["True", "[]"]


UNCOUNTED = """
import numpy as np
from numba.core.runtime.nrt import rtsys
from tests.physics.circuit.reference import conditions_at
from yieldkit.physics.circuit.api import Run, StringCircuit, TrackerLimits, operating_point
lights = conditions_at(np.linspace(1.0, 1000.0, 40)[:, None], np.full((40, 1), 30.0))
limits = TrackerLimits(p_start=10.0)
strings = (StringCircuit((Run(0, 30),)),)
found = operating_point(lights, strings, limits, power_bound=np.full(40, 500.0))
print(sorted(set(found.binding.tolist())), rtsys._init)
"""


def test_a_plain_tracker_under_limits_loads_nothing_that_counts_arrays():
    cache = os.environ.get("YIELDKIT_CACHE", str(Path("~/.cache/yieldkit").expanduser()))
    run(UNCOUNTED, PACKAGE.parent, cache)
    out, _ = run(UNCOUNTED, PACKAGE.parent, cache)
    assert out.rpartition(" ")[2] == "False\n"
    assert out.count(",") >= 2  # free points, some below the start, some at the bound


THREADS_AND_FORK = """
import multiprocessing, threading
import numpy as np
from tests.physics.circuit.reference import conditions_at
from yieldkit.physics.circuit.api import Run, StringCircuit, operating_point
lights = conditions_at(np.linspace(1.0, 1000.0, 200)[:, None], np.full((200, 1), 30.0))
string = (StringCircuit((Run(0, 30),)),)
def solve(_=0):
    return float(operating_point(lights, string, workers=2).p_dc.sum())
first = solve()
found = []
threads = [threading.Thread(target=lambda: found.append(solve())) for _ in range(4)]
[each.start() for each in threads]
[each.join() for each in threads]
assert found == [first] * 4, found
with multiprocessing.get_context("fork").Pool(2) as pool:
    assert pool.map(solve, range(4)) == [first] * 4
print("same")
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_threads_and_forks_after_them_give_the_same():
    cache = os.environ.get("YIELDKIT_CACHE", str(Path("~/.cache/yieldkit").expanduser()))
    out, _ = run(
        "import warnings; warnings.simplefilter('ignore')\n" + THREADS_AND_FORK,
        PACKAGE.parent,
        cache,
    )
    assert out.strip() == "same"
