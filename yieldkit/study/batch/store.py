"""Where a batch keeps its rows: Parquet parts that are whole or not there, told by their content.

A part's name is the hash of its bytes, and its metadata holds the hash of its table. What doesn't
agree is moved aside, never read, and its runs are computed again. Nothing else says what has been
computed: no list, no state beside the parts. A folder is a path, or an address that fsspec knows.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import fsspec
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
from fsspec.implementations.local import LocalFileSystem

from yieldkit.base.errors import refuse
from yieldkit.base.files import clear_leftovers, write_bytes
from yieldkit.study.batch.row_columns import Row, unit_of

PARTS, HOURLY, ASIDE = "parts", "hourly", "aside"
"""Folders of rows, of series, and of what was damaged."""
_TABLE_HASH = b"table_sha256"
_NAME_DIGITS = 40
_GATHERED = 100
"""Parts that are put together at a time."""
_OWN_TEXTS = ("run", "status", "message", "changes")
"""Texts of which every row has its own, and what is asked row by row."""
OK, FAILED = "ok", "failed"
"""What a row says of its run."""


class Store:
    """A folder of parts.

    Parameters
    ----------
    folder : str or Path
        A path, or an address such as "memory://batch" of a store that fsspec reaches.
    """

    def __init__(self, folder: str | Path):
        self.folder = str(folder)
        files, self.root = fsspec.core.url_to_fs(self.folder)
        self._files: Any = files
        self.local = isinstance(files, LocalFileSystem)

    def open(self) -> None:
        """Make the folder, and clear away what killed runs left in it ten minutes ago or longer.

        Raises
        ------
        InputError
            If there can be no such folder.
        """
        try:
            for kind in (PARTS, HOURLY):
                self._files.makedirs(f"{self.root}/{kind}", exist_ok=True)
        except OSError as error:
            taken = isinstance(error, FileExistsError | NotADirectoryError)
            refuse(
                self.folder,
                "a file, or a path through one"
                if taken
                else f"a folder that can't be written to ({error.strerror or error})",
                "a folder to keep the batch in",
                remedy="Name another folder with --out.",
            )
        if self.local:
            for kind in ("", PARTS, HOURLY):
                clear_leftovers(Path(self.root) / kind)

    def write(self, rows: Sequence[Mapping[str, Any]]) -> str:
        """Write rows as one part; return its name.

        Parameters
        ----------
        rows : sequence of mapping
            Column and value; a column that a row lacks is missing there.

        Raises
        ------
        OSError
            If it can't be written; nothing of it is there then.
        """
        return self._write(PARTS, table_of(rows))

    def write_series(self, table: pa.Table) -> str:
        """Write series of runs as one part of their own; return its name."""
        return self._write(HOURLY, table)

    def put(self, name: str, data: bytes) -> None:
        """Write a file whole: renamed into place where the store can, else by a single put."""
        if self.local:
            write_bytes(Path(self.root) / name, data, record=False)
            return
        self._files.pipe_file(f"{self.root}/{name}", data)

    def tables(self, kind: str = PARTS, columns: Sequence[str] | None = None) -> Iterator[pa.Table]:
        """Give the sound parts' tables; what is damaged is moved aside.

        Parameters
        ----------
        kind : str
            Rows or series.
        columns : sequence of str, optional
            Read these only, as far as a part has them.
        """
        for name in self.names(kind):
            table = self.table(kind, name, columns)
            if table is not None:
                yield table

    def table(self, kind: str, name: str, columns: Sequence[str] | None = None) -> pa.Table | None:
        """Return a part's table; None where there is none that is sound."""
        try:
            data = self._files.cat_file(f"{self.root}/{kind}/{name}")
        except FileNotFoundError:
            return None  # another client has just moved it aside
        table = sound_table(name, data)
        if table is None:
            self._set_aside(kind, name, data)
            return None
        if columns is None:
            return table
        return table.select([each for each in columns if each in table.column_names])

    def names(self, kind: str = PARTS) -> list[str]:
        """Return the names of all parts, in their order."""
        try:
            found = self._files.ls(f"{self.root}/{kind}", detail=False, refresh=True)
        except FileNotFoundError:
            return []
        names = sorted(str(path).rsplit("/", 1)[-1] for path in found)
        return [name for name in names if name.endswith(".parquet") and not name.startswith(".")]

    def known(self) -> dict[str, str]:
        """Return the runs that have a row, and whether it is that of a failure."""
        found: dict[str, str] = {}
        for table in self.tables(columns=("run", "status")):
            names, states = (table[column].to_pylist() for column in ("run", "status"))
            for name, status in zip(names, states, strict=True):
                if found.get(name) != OK:
                    found[name] = status
        return found

    def rows(self, columns: Sequence[str] | None = None) -> pa.Table:
        """Return all rows, each run once: its result, where one part has it and another doesn't."""
        few: list[pa.Table] = []
        gathered: list[pa.Table] = []
        for table in self.tables(columns=columns):
            few.append(table)
            if len(few) >= _GATHERED:
                gathered.append(_together(few))
                few.clear()
        if not few and not gathered:
            return table_of([]).select(["run", "status"])
        together = _together([*gathered, *few])
        place: dict[str, int] = {}
        states = together["status"].to_pylist()
        for at, name in enumerate(together["run"].to_pylist()):
            if name not in place or (states[at] == OK and states[place[name]] != OK):
                place[name] = at
        if len(place) == together.num_rows:
            return together
        return together.take(pa.array(sorted(place.values()), type=pa.int64()))

    def _write(self, kind: str, table: pa.Table) -> str:
        sink = pa.BufferOutputStream()
        known = {**(table.schema.metadata or {}), _TABLE_HASH: table_hash(table).encode()}
        pq.write_table(table.replace_schema_metadata(known), sink, compression="zstd")
        data = sink.getvalue().to_pybytes()
        name = f"{hashlib.sha256(data).hexdigest()[:_NAME_DIGITS]}.parquet"
        self.put(f"{kind}/{name}", data)
        return name

    def _set_aside(self, kind: str, name: str, data: bytes) -> None:
        """Move a damaged part where nobody reads it."""
        self._files.makedirs(f"{self.root}/{ASIDE}", exist_ok=True)
        self.put(f"{ASIDE}/{kind}-{name}", data)
        try:
            self._files.rm_file(f"{self.root}/{kind}/{name}")
        except FileNotFoundError:
            return  # another client was quicker


def _together(tables: Sequence[pa.Table]) -> pa.Table:
    """Return tables as one that lies in one piece: very many small ones take several times that.

    A text that many rows share, such as a hash, is there once.
    """
    shared = [_with_shared_texts(table) for table in tables]
    together = pa.concat_tables(shared, promote_options="permissive").combine_chunks()
    pa.default_memory_pool().release_unused()
    return together


def _with_shared_texts(table: pa.Table) -> pa.Table:
    for place, field in enumerate(table.schema):
        if pa.types.is_string(field.type) and field.name not in _OWN_TEXTS:
            encoded = table.column(place).dictionary_encode()
            table = table.set_column(place, field.with_type(encoded.type), encoded)
    return table


def sound_table(name: str, data: bytes) -> pa.Table | None:
    """Return the table of a part; None if its bytes or its table aren't what was written.

    Parameters
    ----------
    name : str
        The part's file name.
    data : bytes
        Its content.
    """
    if name != f"{hashlib.sha256(data).hexdigest()[:_NAME_DIGITS]}.parquet":
        return None
    try:
        table = pq.read_table(pa.BufferReader(data))
    except pa.ArrowException:
        return None
    said = (table.schema.metadata or {}).get(_TABLE_HASH, b"").decode()
    return table if said == table_hash(table) else None


def table_hash(table: pa.Table) -> str:
    """Return a hash of a table's columns: names, values, and what is missing."""
    digest = hashlib.sha256()
    for name in table.column_names:
        digest.update(name.encode() + b"\0")
        for data in _bytes_of(table[name].combine_chunks()):
            digest.update(data)
    return digest.hexdigest()


def _bytes_of(column: pa.Array) -> Iterator[bytes]:
    yield np.asarray(pc.is_valid(column).to_numpy(zero_copy_only=False), dtype=np.uint8).tobytes()
    if pa.types.is_list(column.type):
        yield from _bytes_of(pc.list_value_length(column))
        yield from _bytes_of(pc.list_flatten(column))
    elif pa.types.is_floating(column.type):
        yield pc.fill_null(column, 0.0).to_numpy(zero_copy_only=False).tobytes()
    else:
        yield json.dumps(column.to_pylist()).encode()


def table_of(rows: Sequence[Mapping[str, Any]]) -> pa.Table:
    """Return rows as a table: numbers where a column has a unit, else text.

    Parameters
    ----------
    rows : sequence of mapping
        Column and value; what a row lacks, and a number that is none, is missing.
    """
    columns = list(
        dict.fromkeys(["run", "status", "message", *(key for row in rows for key in row)])
    )
    arrays, fields = [], []
    for column in columns:
        unit = unit_of(column)
        kind = pa.float64() if unit else pa.string()
        arrays.append(pa.array([row.get(column) for row in rows], type=kind, from_pandas=True))
        fields.append(pa.field(column, kind, metadata={"unit": unit} if unit else None))
    return pa.Table.from_arrays(arrays, schema=pa.schema(fields))


def row_at(table: pa.Table, at: int) -> Row:
    """Return one row of a table, without what is missing in it."""
    values = table.slice(at, 1).to_pylist()[0]
    return {name: value for name, value in values.items() if value is not None}
