"""What decides on the compiled form of a room: its source and all that it imports, no other."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from yieldkit.physics import compiled, kept_code

ROOMS = {
    "kernel": "from yieldkit.physics.helper import (\n    add,\n    take,\n)\n",
    "helper": "import numpy as np\nfrom yieldkit.physics import deep\n",
    "deep": "FACTOR = 2.0\n",
    "elsewhere": "from yieldkit.physics.deep import FACTOR\n",
}


@pytest.fixture
def wing(tmp_path, monkeypatch):
    """Return a folder of rooms that takes the place of physics."""
    folder = tmp_path / "yieldkit" / "physics"
    folder.mkdir(parents=True)
    for name, text in ROOMS.items():
        (folder / f"{name}.py").write_text(text)
    monkeypatch.setattr(kept_code, "_SOURCES", tmp_path)
    forget()
    yield folder
    forget()


def forget():
    """Let files be read again."""
    for function in (kept_code._read, kept_code._file_of, kept_code._machine):
        function.cache_clear()


def keys(source=None):
    """Return the keys of all rooms as they are now."""
    forget()
    return {name: kept_code.cache_key(f"yieldkit.physics.{name}", source) for name in ROOMS}


@pytest.mark.parametrize(
    ("edited", "changed"),
    [
        ("kernel", {"kernel"}),
        ("helper", {"kernel", "helper"}),
        ("deep", {"kernel", "helper", "deep", "elsewhere"}),
        ("elsewhere", {"elsewhere"}),
    ],
)
def test_an_edit_changes_the_keys_of_the_rooms_that_import_it_and_no_other(wing, edited, changed):
    before = keys()
    path = wing / f"{edited}.py"
    path.write_text(path.read_text() + "# edited\n")
    after = keys()
    assert {name for name in ROOMS if before[name] != after[name]} == changed


def test_numba_and_the_processor_change_every_key(wing, monkeypatch):
    before = keys()
    monkeypatch.setattr(kept_code, "_processor", lambda: "another")
    monkeypatch.setattr(kept_code.numba_config, "CPU_NAME", None)
    assert not set(keys().values()) & set(before.values())


def test_a_room_outside_of_the_package_counts_itself_and_what_it_imports(wing, tmp_path):
    outside = tmp_path / "bench.py"
    outside.write_text("from yieldkit.physics.deep import FACTOR\n")

    def key():
        forget()
        return kept_code.cache_key("bench_of_its_own", outside)

    first = key()
    (wing / "deep.py").write_text("FACTOR = 3.0\n")
    second = key()
    outside.write_text("from yieldkit.physics.deep import FACTOR  # edited\n")
    assert len({first, second, key()}) == 3


def test_kernels_of_the_circuit_need_none_of_the_ac_side():
    circuit = kept_code._with_imports("yieldkit.physics.circuit.api", None)
    assert "yieldkit.physics.circuit.exponential" in circuit
    assert not [name for name in circuit if ".ac." in name]
    assert Path(compiled.__file__).read_bytes() == circuit["yieldkit.physics.compiled"]


KERNEL = """
import sys
import numpy as np
from yieldkit.physics.compiled import compiled_owning

@compiled_owning
def scaled(values):
    made = np.empty(values.size)
    for at in range(values.size):
        made[at] = 2.0 * values[at]
    return made

print(scaled(np.arange(3.0)).tolist(), "numba.np.random.legacy" in sys.modules)
print(scaled(np.arange(2)).tolist())
"""


def test_a_new_process_loads_a_kernel_without_what_compiling_needs(tmp_path):
    script = tmp_path / "kernel_of_its_own.py"
    script.write_text(KERNEL)
    chosen = {**os.environ, "YIELDKIT_CACHE": str(tmp_path / "kept")}

    def said():
        done = subprocess.run(
            [sys.executable, str(script)], env=chosen, capture_output=True, text=True, check=True
        )
        return done.stdout.splitlines()

    assert said() == ["[0.0, 2.0, 4.0] True", "[0.0, 2.0]"]
    assert said() == ["[0.0, 2.0, 4.0] False", "[0.0, 2.0]"]


OFFENDERS = """
import sys
import numpy as np
from yieldkit.physics.compiled import compiled, compiled_owning

@compiled
def first_row(table):
    return table

@compiled_owning
def doubled(values):
    made = np.empty(values.size)
    for at in range(values.size):
        made[at] = 2.0 * values[at]
    return made

@compiled
def greatest(values):
    most = 0.0
    for value in doubled(values):
        most = max(most, value)
    return most

@compiled
def sum_of(values):
    total = 0.0
    for value in values[1:]:
        total += value
    return total

@compiled
def as_part(table):
    return 1.0, (table[0], 2.0)

values = np.arange(6.0)
held = sys.getrefcount(values)
print(sum_of(values), sys.getrefcount(values) - held)
for offends, given in ((first_row, values.reshape(2, 3)), (greatest, values),
                       (as_part, values.reshape(2, 3))):
    try:
        offends(given)
    except TypeError as error:
        print(error)
"""


def test_a_kernel_that_would_lose_count_of_its_arrays_is_refused(tmp_path):
    script = tmp_path / "offenders.py"
    script.write_text(OFFENDERS)
    chosen = {**os.environ, "YIELDKIT_CACHE": str(tmp_path / "kept")}
    done = subprocess.run(
        [sys.executable, str(script)], env=chosen, capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines() == [
        "15.0 0",
        "__main__.first_row borrows its arrays and returns one: make it compiled_owning",
        "__main__.greatest borrows its arrays and calls doubled, which owns some: "
        "make it compiled_owning",
        "__main__.as_part borrows its arrays and returns one: make it compiled_owning",
    ]


COUNTED = """
import numpy as np
from numba.core.runtime.nrt import rtsys
from yieldkit.physics.compiled import compiled, compiled_owning

@compiled
def greatest(values):
    found = values[0]
    for value in values[1:]:
        found = max(found, value)
    return found

@compiled_owning
def doubled(values):
    return 2.0 * values

for solver in (greatest, doubled):
    found = solver(np.arange(6.0))
    print(np.max(found), rtsys._init, sum(solver.stats.cache_hits.values()))
"""


def test_code_that_borrows_its_arrays_is_loaded_without_what_counts_them(tmp_path):
    script = tmp_path / "both.py"
    script.write_text(COUNTED)
    chosen = {**os.environ, "YIELDKIT_CACHE": str(tmp_path / "kept")}
    for told in (["5.0 True 0", "10.0 True 0"], ["5.0 False 1", "10.0 True 1"]):
        done = subprocess.run(
            [sys.executable, str(script)], env=chosen, capture_output=True, text=True, check=True
        )
        assert done.stdout.splitlines() == told


@compiled.compiled
def _twice(number):
    return 2.0 * number


@compiled.compiled
def _twice_and_one(number):
    return _twice(number) + 1.0


def test_only_what_python_calls_gets_an_entrance_from_python():
    assert _twice_and_one(3.0) == 7.0
    # Without one it is compiled in two thirds of the time.
    assert _twice.signatures == []
    assert _twice(3.0) == 6.0
    assert len(_twice.signatures) == len(_twice_and_one.signatures) == 1


SHARED = """
from yieldkit.physics.compiled import compiled

@compiled
def rooted(number):
    if number < 0.0:
        raise ValueError("no root of what is below zero")
    return number ** 0.5

@compiled
def twice_rooted(number):
    return rooted(number) + rooted(number)
"""
CALLER = """
from numba.core.event import install_recorder
from shared import rooted, twice_rooted
from yieldkit.physics.compiled import compiled

@compiled
def called(number):
    return {body}

with install_recorder("numba:compile") as heard:
    print(called(4.0))
print(*sorted({{event.data["dispatcher"].__name__ for _, event in heard.buffer}}))
try:
    called(-4.0)
except ValueError as error:
    print(error)
"""


def test_what_solvers_share_is_compiled_once_and_tells_its_errors(tmp_path):
    (tmp_path / "shared.py").write_text(SHARED)
    chosen = {**os.environ, "YIELDKIT_CACHE": str(tmp_path / "kept")}

    def said(name, body):
        script = tmp_path / f"{name}.py"
        script.write_text(CALLER.format(body=body))
        done = subprocess.run(
            [sys.executable, str(script)], env=chosen, capture_output=True, text=True, check=True
        )
        return done.stdout.splitlines()

    refused = "no root of what is below zero"
    first = "twice_rooted(number) + rooted(number)"
    everything = "called rooted twice_rooted"
    assert said("first", first) == ["6.0", everything, refused]
    assert said("second", "10.0 * twice_rooted(number)") == ["40.0", "called", refused]
    assert said("first", first) == ["6.0", "", refused]
