"""What is written is what is read; damage is noticed; cells and names are harmless."""

import csv
import hashlib
import io

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from yieldkit.base import files as store
from yieldkit.base.errors import InputError
from yieldkit.base.plain_text import plain_line, plain_text

pytestmark = pytest.mark.slow


def small():
    """Return a Dataset with what results hold: numbers, flags, texts and attributes."""
    time = pd.date_range("2021-01-01", periods=24, freq="h")
    return xr.Dataset(
        {
            "v_dc": (("time", "tracker"), np.linspace(0.0, 700.0, 48).reshape(24, 2)),
            "binding_limit": (
                ("time", "tracker"),
                np.ones((24, 2), dtype=np.int8),
                {
                    "flag_values": np.array([0, 1], dtype=np.int8),
                    "flag_meanings": "none window_low",
                },
            ),
        },
        coords={"time": time, "tracker": ["MPPT 1", "MPPT 2"]},
        attrs={"site": "barn", "kwp": 20.5, "strings": "[1, 2]", "hours": "null"},
    )


def test_dataset_comes_back_identical(tmp_path):
    digest = store.write_dataset(tmp_path / "a.nc", small())
    assert store.read_dataset(tmp_path / "a.nc").identical(small())
    assert digest == hashlib.sha256((tmp_path / "a.nc").read_bytes()).hexdigest()


def test_every_flipped_byte_of_a_page_is_noticed(tmp_path):
    path = tmp_path / "page.html"
    store.write_text(path, "<html><p>25,100 kWh</p></html>")
    whole = path.read_bytes()
    assert store.damaged(tmp_path) == ()
    for place in range(len(whole)):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        assert store.damaged(tmp_path) == ("page.html",)


def test_flipped_bytes_of_a_dataset_are_refused(tmp_path):
    path = tmp_path / "a.nc"
    store.write_dataset(path, small())
    whole = path.read_bytes()
    for place in np.linspace(0, len(whole) - 1, 60).astype(int):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 4]) + whole[place + 1 :])
        with pytest.raises(
            InputError, match=r"content that written\.sha256 beside it doesn't know"
        ):
            store.read_dataset(path)
    path.write_bytes(whole)
    assert store.read_dataset(path).identical(small())


def test_dataset_without_record_is_refused(tmp_path):
    store.write_dataset(tmp_path / "a.nc", small())
    (tmp_path / store.RECORD).unlink()
    with pytest.raises(InputError, match="Make it again"):
        store.read_dataset(tmp_path / "a.nc")
    with pytest.raises(InputError, match="no such file"):
        store.read_dataset(tmp_path / "b.nc")


def test_torn_line_in_the_record_harms_no_other(tmp_path):
    store.write_text(tmp_path / "a.txt", "a")
    with (tmp_path / store.RECORD).open("ab") as stream:
        stream.write(b"\n0123456789abcdef  b.t")
    store.write_text(tmp_path / "c.txt", "c")
    assert set(store.recorded(tmp_path)) == {"a.txt", "c.txt"}
    assert store.damaged(tmp_path) == ()


def test_files_that_people_edit_are_not_recorded(tmp_path):
    store.write_text(tmp_path / "site.yaml", "site: {}", record=False)
    assert [item.name for item in tmp_path.iterdir()] == ["site.yaml"]
    assert store.recorded(tmp_path) == {}


def test_long_and_foreign_file_names_are_written(tmp_path):
    for name in ("ü" * 120 + ".csv", "屋根.html", "a" * 250):
        store.write_text(tmp_path / name, name)
        assert (tmp_path / name).read_text(encoding="utf-8") == name
    assert store.damaged(tmp_path) == ()


@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        '=HYPERLINK("http://x","y")',
        "+1",
        "-2+3",
        "@SUM(A1)",
        "\t=1",
        " =1",
        "\r=1",
        "\x00=1",
        "‮=1",
    ],
)
def test_cells_that_look_like_formulas_are_text(text):
    table = pd.DataFrame({"name": [text], text: [1.5]}, index=pd.Index([text], name=text + "i"))
    rows = list(csv.reader(io.StringIO(store.table_text(table))))
    for cell in (rows[0][0], rows[0][2], rows[1][0], rows[1][1]):
        assert cell.startswith("'")
        assert cell.isprintable()
    assert rows[1][2] == "1.5"


def test_negative_numbers_stay_numbers_and_unnamed_indexes_are_kept():
    text = store.table_text(pd.DataFrame({"loss": [-1.5, 2.0]}, index=["west", "east"]))
    assert text == "index,loss\nwest,-1.5\neast,2.0\n"
    assert store.table_text(pd.DataFrame({"loss": [-1.5]})) == "loss\n-1.5\n"


@given(st.text())
def test_file_names_from_any_text_are_plain(text):
    name = store.safe_name(text)
    assert name
    assert len(name) <= 60
    assert not set(name) & set('/\\:*?"<>|\n\r\t\0.')
    assert not name.startswith("-")


@given(st.text())
def test_text_for_a_terminal_steers_nothing(text):
    assert all(sign.isprintable() for sign in plain_line(text))
    assert all(sign.isprintable() or sign == "\n" for sign in plain_text(text))
    assert plain_line(plain_line(text)) == plain_line(text)


def test_terminal_sequences_lose_their_force():
    assert plain_text("a\x1b[31mred\x1b[0m\nb\tc\x9b2J\u202e") == "a[31mred[0m\nb c2J"
    assert plain_line(" two\n lines ") == "two lines"
