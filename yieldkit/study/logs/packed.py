"""Tables of a log that aren't text: parquet is made text, spreadsheets' own forms are refused."""

from __future__ import annotations

from io import BytesIO
from typing import NamedTuple

import pandas as pd
from pyarrow import ArrowException

from yieldkit.base.errors import refuse

_PARQUET = b"PAR1"
_SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
"""How files begin that are packed, as today's spreadsheets are, and those of older ones."""


class TextTable(NamedTuple):
    """A table as text.

    Parameters
    ----------
    content : bytes
        The text.
    typed : bool
        Whether it was made from numbers and moments, so that it is known how these are written:
        decimal point, year first, UTF-8.
    """

    content: bytes
    typed: bool


def text_table(content: bytes, name: str) -> TextTable:
    """Return a table as text.

    Parameters
    ----------
    content : bytes
        The whole file: text, or parquet.
    name : str
        What messages call it.

    Raises
    ------
    InputError
        If it is empty, a spreadsheet's own form, or parquet that can't be read.
    """
    if not content.strip():
        refuse(name, "an empty file", "a table with a line of names and rows of readings")
    if content.startswith(_SPREADSHEETS):
        refuse(
            name,
            "a spreadsheet's own form, or a packed file",
            "a table as text (CSV), or parquet",
            remedy="Open it in the spreadsheet, choose Save As with the type CSV, and name that "
            "file here",
        )
    if not content.startswith(_PARQUET):
        return TextTable(content, typed=False)
    try:
        frame = pd.read_parquet(BytesIO(content))
    except (ArrowException, OSError, ValueError) as error:
        refuse(
            name,
            f"parquet that can't be read ({str(error).splitlines()[0][:80]})",
            "a whole parquet file, or a table as text (CSV)",
        )
    if not isinstance(frame.index, pd.RangeIndex):
        frame = frame.reset_index()
    plain = (pd.api.types.is_numeric_dtype, pd.api.types.is_datetime64_any_dtype)
    typed = all(any(is_one(kind) for is_one in plain) for kind in frame.dtypes)
    text = frame.to_csv(sep="\t", index=False, lineterminator="\n")
    return TextTable(text.encode("utf-8"), typed)
