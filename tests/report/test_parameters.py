"""The gate before a kernel starts: what a notebook doesn't know and use stops the run."""

import datetime
import re
from pathlib import Path

import nbformat
import numpy as np
import pytest

from tests.report.notebooks import notebook
from yieldkit.base.errors import InputError
from yieldkit.report.page.parameters import as_plain, checked_parameters, default_parameters

GOOD = notebook(
    "site_file = ''\nyears: int = 10\nshare = 0.5\ndeep = False",
    "print(site_file, years, share, deep)",
)


def refusal(given, content=GOOD):
    """Return what the gate says to some parameters."""
    with pytest.raises(InputError, match=r"book\.ipynb") as caught:
        checked_parameters(content, given, "book.ipynb")
    return str(caught.value)


def test_fitting_parameters_pass_as_plain_values():
    given = {"site_file": Path("a") / "b", "years": np.int64(12), "share": 1, "deep": np.True_}
    plain = checked_parameters(GOOD, given, "book.ipynb")
    assert plain == {"site_file": str(Path("a") / "b"), "years": 12, "share": 1, "deep": True}
    assert {type(value) for value in plain.values()} == {str, int, bool}


def test_misspelt_parameter_is_refused_with_the_nearest_name():
    told = refusal({"sitefile": "x"})
    assert "the unknown parameter 'sitefile'" in told
    assert "Did you mean 'site_file'?" in told


def test_all_problems_are_told_at_once():
    told = refusal({"yeers": 1, "share": "half", "deep": 1})
    assert told.count("\n") == 2
    assert "'yeers'" in told
    assert "book.ipynb, share: got 'half', of type str; expected type float, such as 0.5." in told
    assert "book.ipynb, deep: got 1, of type int" in told


@pytest.mark.parametrize(
    "name",
    [
        "a=1\nimport os;os.system('echo PWNED')\nb",
        "site_file = 1;x",
        "site_file ",
        "import",
        "a b",
        "",
        "9",
        "x#",
    ],
)
def test_a_name_that_holds_code_is_refused(name):
    assert f"the parameter name {name!r}" in refusal({name: 1})


def test_a_parameter_no_later_cell_reads_is_refused():
    content = notebook("used = 1\nleft_over = 2", "print(used)\nleft_over_too = 3")
    told = refusal({}, content)
    assert "book.ipynb, left_over: got a parameter that no later cell reads" in told
    assert "book.ipynb, used" not in told


def test_reading_before_the_tagged_cell_or_in_text_does_not_count():
    content = notebook("years = 1", "pass")
    content.cells.insert(0, nbformat.v4.new_code_cell("years = 3; print(years)"))
    content.cells.append(nbformat.v4.new_markdown_cell("print(years)"))
    assert "no later cell reads" in refusal({}, content)


def test_a_parameter_set_again_later_is_refused():
    told = refusal({}, notebook("years = 1", "years = 3\nprint(years)"))
    assert "a parameter that a later cell sets again" in told


@pytest.mark.parametrize("count", [0, 2])
def test_exactly_one_cell_is_tagged(count):
    content = notebook("years = 1", "print(years)", tag=None)
    for _ in range(count):
        content.cells.insert(0, notebook("years = 1").cells[0])
    assert f"got {count} code cells tagged 'parameters'; expected exactly one" in refusal(
        {}, content
    )


def test_a_tagged_text_cell_is_refused():
    content = notebook("years = 1", "print(years)")
    content.cells[0] = nbformat.v4.new_markdown_cell("x", metadata={"tags": ["parameters"]})
    assert "a cell of text" in refusal({}, content)


@pytest.mark.parametrize(
    ("source", "told"),
    [
        ("years = 1\nyears = 2", "years: got set twice"),
        ("years = 2 * 5", "years: got a computed default"),
        ("import os", "got 'import os' in the cell of parameters"),
        ("a.b = 1", "got 'a.b = 1' in the cell of parameters"),
        ("years = = 1", "a cell that is no Python (invalid syntax: years = = 1)"),
    ],
)
def test_the_tagged_cell_holds_plain_assignments_only(source, told):
    assert told in refusal({}, notebook(source, "print(years)"))


def test_an_equals_sign_in_a_default_is_no_second_parameter():
    content = notebook("rule = 'a=b'\n# note = 1", "print(rule)")
    assert default_parameters(content, "book.ipynb") == {"rule": "a=b"}


class Word(str):
    """A text that shows itself as another."""

    __slots__ = ()

    def __str__(self):
        return "not the word"


@pytest.mark.parametrize(
    ("value", "plain"),
    [
        ((1, 2), [1, 2]),
        (np.float64(0.5), 0.5),
        (np.str_("x"), "x"),
        ({"a": (Path("x"),)}, {"a": ["x"]}),
        (None, None),
        (Word("a"), "a"),
        (np.array(3), 3),
    ],
)
def test_values_become_plain(value, plain):
    assert as_plain(value) == plain
    assert type(as_plain(value)) is type(plain)


@pytest.mark.parametrize(
    ("value", "kind"),
    [
        (datetime.date(2020, 1, 1), "date"),
        (np.datetime64("2020-01-01", "ns"), "datetime64"),
        (float("nan"), "float"),
        (np.float64("inf"), "float64"),
        ({1: 2}, "dict"),
        ({1}, "set"),
        (np.arange(2), "ndarray"),
        (1j, "complex"),
    ],
)
def test_other_values_are_refused(value, kind):
    with pytest.raises(TypeError, match=re.escape(kind)):
        as_plain(value)
    assert "a finite number" in refusal({"share": value})
