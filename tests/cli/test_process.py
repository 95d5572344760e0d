"""What a process of the command line loads, and how it ends."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

FULL = Path("/dev/full")
THREADS = "OPENBLAS_NUM_THREADS"
ENDS = """
import atexit, json, os, sys, types
from importlib.util import find_spec
from yieldkit.cli.process import _SELDOM_USED, run

def told():
    loaded = {name: type(module) is types.ModuleType for name, module in sys.modules.items()}
    print(json.dumps({
        "threads": os.environ["OPENBLAS_NUM_THREADS"],
        "numpy": "numpy" in sys.modules,
        "cluster": find_spec("dask") is not None,
        "its parts": any(name.startswith("dask.") for name in loaded),
        "loaded": sorted(name for name in _SELDOM_USED if loaded.get(name)),
        "waiting": sorted(name for name in _SELDOM_USED if name in loaded and not loaded[name]),
    }))

atexit.register(told)
"""
RUN = f"{ENDS}\ncode = run()\nprint('ended by itself')\nsys.exit(code)"


def process(*words, script=RUN, **kept):
    """Return a process that has run a command."""
    return subprocess.run(
        [sys.executable, "-c", script, *words], capture_output=True, text=True, **kept
    )


def told(*words, **kept):
    """Return what a command has loaded, told by what it had to do at its end."""
    done = process(*words, check=True, **kept)
    return json.loads(done.stdout.splitlines()[-1])


@pytest.mark.slow
def test_a_simulation_loads_no_cluster_and_nothing_that_it_has_no_use_for():
    one = told("simulate")
    assert not one["cluster"]
    assert not one["its parts"]
    assert len(one["waiting"]) > 15
    assert one["loaded"] == []


@pytest.mark.slow
def test_the_clusters_library_is_there_for_a_batch():
    assert told("sweep", "--dry-run")["cluster"]


@pytest.mark.parametrize("asked", [None, "2"])
def test_linear_algebra_has_one_thread_unless_more_are_asked_for(asked):
    chosen = {name: value for name, value in os.environ.items() if name != THREADS}
    script = f"import yieldkit.cli.process, sys\nassert 'numpy' not in sys.modules\n{RUN}"
    one = told("schema", script=script, env=chosen | ({THREADS: asked} if asked else {}))
    assert one["numpy"]
    assert one["threads"] == (asked or "1")


WHEN_USED = """
import sys
from yieldkit.cli.process import _LoadedWhenUsed
sys.meta_path.insert(0, _LoadedWhenUsed())
import pvlib, h5py
kinds = [type(pvlib.iotools).__name__, type(h5py).__name__]
from pvlib import iotools, spectrum
print(*kinds, callable(iotools.read_tmy3), h5py.__version__ > "", spectrum.get_reference_spectra)
import asyncio
asyncio.run(asyncio.sleep(0))
import numpy.testing, xarray.ufuncs, scipy.spatial.transform as turned
numpy.testing.assert_allclose(turned.Rotation.identity().as_matrix(), numpy.eye(3))
print(type(asyncio).__name__)
"""


@pytest.mark.slow
def test_what_waits_is_there_as_soon_as_it_is_asked_for():
    first, last = process(script=WHEN_USED, check=True).stdout.splitlines()
    assert first.startswith("_LazyModule _LazyModule True True <function")
    assert last == "module"


@pytest.mark.parametrize(("words", "code"), [(["--version"], 0), (["simulat"], 2)])
def test_the_exit_code_of_the_parser_is_the_process_own(words, code):
    assert process(*words).returncode == code


@pytest.mark.parametrize(
    ("words", "code"), [(["schema"], 0), (["check", "nowhere.yaml"], 2), ([], 0)]
)
def test_a_process_ends_at_once_with_its_code_and_all_that_it_said(words, code):
    done = process(*words)
    assert done.returncode == code
    assert "ended by itself" not in done.stdout
    assert json.loads(done.stdout.splitlines()[-1])  # what had to be done at the end
    if words == ["schema"]:
        assert json.loads("".join(done.stdout.splitlines()[:-1]))["title"]


@pytest.mark.parametrize(
    "first",
    [
        "import threading; threading.Thread(target=threading.Event().wait, daemon=True).start()",
        "sys.setprofile(lambda *_: None)",
        "sys.settrace(lambda *_: None)",
    ],
)
def test_a_process_with_company_ends_by_itself(first):
    script = RUN.replace("code = run()", f"{first}\ncode = run()")
    done = process("schema", script=script)
    assert done.returncode == 0
    assert "ended by itself" in done.stdout


@pytest.mark.skipif(not FULL.exists(), reason="no device that is always full")
def test_what_could_not_be_said_is_told_by_the_exit_code():
    with FULL.open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "yieldkit", "schema"], stdout=full, stderr=subprocess.PIPE
        )
    assert done.returncode not in (0, 1)
    assert b"No space left" in done.stderr
