"""Parts are told by their content: no damage is read, whatever the store or the disk does."""

import errno
import itertools
import json
import random
import subprocess
from pathlib import Path

import fsspec
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from fsspec.implementations.memory import MemoryFileSystem

from tests.amounts import amount
from tests.base.test_faults import Disk, faulty  # noqa: F401  # a fixture
from tests.study.batch import batches, killing
from yieldkit.base.errors import InputError
from yieldkit.study.batch import store as rooms
from yieldkit.study.batch.store import Store, sound_table, table_hash, table_of
from yieldkit.study.batch.sweep import sweep

pytestmark = pytest.mark.slow

FEW = """\
base: site.yaml
axes:
  - {kind: key, name: lead, path: grid.lead.length_m, values: [6, 18, 40]}
wirings: [one plane per tracker]
"""
ERRORS = (errno.ENOSPC, errno.EIO, errno.EACCES)


@pytest.fixture(scope="module")
def few(tmp_path_factory):
    """Return three runs, and the folder of their batch."""
    folder = tmp_path_factory.mktemp("few")
    runs = batches.batch(folder, FEW)
    sweep(runs, folder / "out", workers=1)
    return runs, folder / "out"


def flipped(data, offset):
    """Return bytes with one bit of one of them turned."""
    return data[:offset] + bytes([data[offset] ^ 0x10]) + data[offset + 1 :]


def part_of(out):
    """Return the only part of a folder."""
    (path,) = (out / "parts").glob("*.parquet")
    return path


def offsets(data):
    """Return 200 places spread over a file, its first and last byte among them."""
    drawn = random.Random(7).sample(range(1, len(data) - 1), 198)
    return [0, len(data) - 1, *drawn]


def test_one_flipped_byte_is_found_at_each_of_200_places(few):
    path = part_of(few[1])
    data = path.read_bytes()
    assert sound_table(path.name, data) is not None
    assert [at for at in offsets(data) if sound_table(path.name, flipped(data, at))] == []


def test_a_part_accepted_by_its_name_only_would_be_noticed(few):
    path = part_of(few[1])
    data = path.read_bytes()
    accepted = 0
    for at in offsets(data):
        try:
            accepted += pq.read_table(pa.BufferReader(flipped(data, at))).num_rows == 3
        except (OSError, pa.ArrowException, ValueError):
            continue
    assert accepted > 0


def test_the_table_is_held_against_the_hash_in_the_metadata(few):
    path = part_of(few[1])
    table = pq.read_table(path)
    other = table.set_column(
        table.column_names.index("energy_kwh"), "energy_kwh", pa.array([1.0, 2.0, 3.0])
    )
    sink = pa.BufferOutputStream()
    pq.write_table(other.replace_schema_metadata(table.schema.metadata), sink)
    data = sink.getvalue().to_pybytes()
    name = f"{rooms.hashlib.sha256(data).hexdigest()[:40]}.parquet"
    assert sound_table(name, data) is None
    assert table.schema.metadata[b"table_sha256"].decode() == table_hash(table)


@pytest.mark.parametrize(
    ("left", "right"),
    [
        ([{"run": "a", "energy_kwh": 0.0}], [{"run": "a", "energy_kwh": None}]),
        ([{"run": "a", "energy_kwh": 0.0}], [{"run": "a", "energy_kwh": -0.0}]),
        ([{"run": "ab", "wiring": "c"}], [{"run": "a", "wiring": "bc"}]),
        ([{"run": "a"}, {"run": "b"}], [{"run": "b"}, {"run": "a"}]),
        ([{"run": "a", "message": ""}], [{"run": "a", "message": None}]),
    ],
)
def test_tables_that_differ_have_other_hashes(left, right):
    assert table_hash(table_of(left)) != table_hash(table_of(right))


def test_a_damaged_part_is_moved_aside_and_its_runs_are_computed_again(few):
    runs, out = few
    before = batches.table(out)
    path = part_of(out)
    bad = flipped(path.read_bytes(), 900)
    path.write_bytes(bad)
    said = sweep(runs, out, workers=1)
    assert said[:3] == (3, 0, 0)
    assert (out / "aside" / f"parts-{path.name}").read_bytes() == bad
    assert batches.table(out).equals(before)
    assert sweep(runs, out, workers=1)[:3] == (0, 3, 0)


def test_a_part_that_is_cut_short_empty_or_no_part_is_moved_aside(few):
    runs, out = few
    data = part_of(out).read_bytes()
    for name, content in (("a", data[:-9]), ("b", b""), ("c", b"no table at all")):
        (out / "parts" / f"{name}.parquet").write_bytes(content)
    assert sweep(runs, out, workers=1)[:3] == (0, 3, 0)
    assert {path.name for path in (out / "aside").iterdir()} >= {
        "parts-a.parquet",
        "parts-b.parquet",
        "parts-c.parquet",
    }


class WithoutRename(MemoryFileSystem):
    """A store that knows no renaming: what is put is put at once."""

    protocol = "norename"
    store: dict = {}  # noqa: RUF012  # as its base has it
    pseudo_dirs = [""]  # noqa: RUF012
    calls: list = []  # noqa: RUF012

    @classmethod
    def _strip_protocol(cls, path):
        return "/" + path.removeprefix("norename://").strip("/")

    def mv(self, *_given, **_more):
        """Refuse."""
        raise OSError("no renaming here")

    rename = move = cp_file = copy = mv

    def pipe_file(self, path, value, **more):
        """Note a put."""
        self.calls.append(path)
        return super().pipe_file(path, value, **more)


fsspec.register_implementation("norename", WithoutRename, clobber=True)


def test_where_a_store_knows_no_renaming_every_file_is_one_put(few):
    runs, out = few
    where = "norename://batch/one"
    assert sweep(runs, where, workers=1)[:3] == (3, 0, 0)
    assert sweep(runs, where, workers=1)[:3] == (0, 3, 0)
    puts = [path.rsplit("/", 1)[-1] for path in WithoutRename.calls]
    assert sorted(set(puts) - {part_of(out).name}) == ["runs.csv", "runs.nc", "runs.parquet"]
    assert puts.count(part_of(out).name) == 1
    files = fsspec.filesystem("norename")
    table = pq.read_table(pa.BufferReader(files.cat_file("/batch/one/runs.parquet")))
    assert table.equals(batches.table(out))
    name = f"/batch/one/parts/{part_of(out).name}"
    files.pipe_file(name, flipped(files.cat_file(name), 500))
    assert sweep(runs, where, workers=1)[:3] == (3, 0, 0)
    assert f"/batch/one/aside/parts-{part_of(out).name}" in WithoutRename.calls


def test_a_folder_in_memory_serves_a_batch(few):
    assert sweep(few[0], "memory://held", workers=1)[:3] == (3, 0, 0)
    assert sweep(few[0], "memory://held", workers=1)[:3] == (0, 3, 0)


@pytest.mark.parametrize("sticky", [False, True], ids=["once", "sticky"])
@pytest.mark.parametrize("number", ERRORS, ids=[errno.errorcode[number] for number in ERRORS])
def test_a_file_call_that_fails_is_a_sentence_and_the_same_call_goes_on(
    number,
    sticky,
    few,
    tmp_path,
    faulty,  # noqa: F811
):
    runs, out = few
    told = []
    for count, nth in enumerate(itertools.count(1 + number % 5, amount(31, 1))):
        folder = tmp_path / str(count)
        disk = Disk(nth, number, sticky)
        stop = faulty(disk)
        try:
            sweep(runs, folder, workers=1)
        except InputError as error:
            told.append(str(error))
        finally:
            stop()
        assert sweep(runs, folder, workers=1).failed == 0
        assert killing.sound(folder) == []
        assert batches.same_tables(folder, out)
        if not disk.failed:
            break
    assert len(told) >= 2
    assert all("a store that refuses (" in each or "t be written to (" in each for each in told)


@pytest.fixture
def small_disk(tmp_path):
    """Return a folder of 4 MB, where this system lets one be made."""
    folder = tmp_path / "small"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(folder)]
    try:
        made = subprocess.run(command, capture_output=True, check=False, timeout=20)
    except OSError:
        pytest.skip("no mount here")
    if made.returncode:
        pytest.skip("no small disk may be made here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True, timeout=20)


def test_a_full_disk_is_a_sentence_and_goes_on_when_there_is_room(few, small_disk):
    runs, out = few
    ballast = small_disk / "ballast"
    ballast.write_bytes(bytes(4 * 1024 * 1024 - 40 * 1024))
    with pytest.raises(InputError, match=r"got a store that refuses \(No space left on device\)"):
        sweep(runs, small_disk / "out", workers=1)
    ballast.unlink()
    assert sweep(runs, small_disk / "out", workers=1).failed == 0
    assert batches.same_tables(small_disk / "out", out)


def test_series_keep_every_value(tmp_path):
    table = pa.table({"run": ["a"], "values": pa.array([[1.0, np.nan, 3.0]])})
    store = Store(tmp_path)
    name = store.write_series(table)
    (found,) = store.tables("hourly")
    assert json.dumps(found["values"].to_pylist()) == "[[1.0, NaN, 3.0]]"
    assert Path(tmp_path, "hourly", name).is_file()
    longer = pa.table({"run": ["a"], "values": pa.array([[1.0, 3.0, 3.0]])})
    assert table_hash(table) != table_hash(longer)
