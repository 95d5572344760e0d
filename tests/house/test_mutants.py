"""The script that plants small mutants: what it plants, and what it says of their end."""

import ast

import pytest

from tests import mutants
from tests.slips import mutants_of

TOY = '''
"""A toy."""
LIMIT = 0


def least(a: int = 0, b=7):
    """Return 0 or 1."""
    if a < b and not a == 2.5:
        return min(a, b) + LIMIT
    return f"{a + b}" + "x"


@compiled
def kernel(a):
    return a * 2


def spare(a):
    return a * 3
'''


def test_every_kind_of_slip_and_nothing_in_words_or_kernels():
    found = mutants_of(TOY, "toy.py")
    assert [(each.line, each.function, each.after) for each in found] == [
        (3, "", "LIMIT = 1"),
        (6, "least", "def least(a: int = 1, b=7):"),
        (6, "least", "def least(a: int = 0, b=8):"),
        (8, "least", "if (a < b or not a == 2.5):"),
        (8, "least", "if (a > b) and not a == 2.5:"),
        (8, "least", "if a < b and (a == 2.5):"),
        (8, "least", "if a < b and not (a != 2.5):"),
        (8, "least", "if a < b and not a == 3.5:"),
        (9, "least", "return (min(a, b) - LIMIT)"),
        (9, "least", "return max(a, b) + LIMIT"),
        (19, "spare", "return (a / 3)"),
        (19, "spare", "return a * 4"),
    ]
    for each in found:
        ast.parse(each.planted(TOY))


@pytest.fixture
def workshop(tmp_path, monkeypatch):
    """Return a workshop on a tree of one room, one good test and one that always fails."""
    monkeypatch.setenv("PYTEST_DISABLE_PLUGIN_AUTOLOAD", "1")
    room = tmp_path / "made" / "yieldkit" / "design" / "toy.py"
    tests = tmp_path / "made" / "tests" / "design"
    room.parent.mkdir(parents=True)
    tests.mkdir(parents=True)
    (room.parents[1] / "__init__.py").touch()
    room.write_text(TOY.replace("@compiled\n", ""), encoding="utf-8")
    (tmp_path / "made" / "pytest.ini").write_text("[pytest]\npythonpath = .\n", encoding="utf-8")
    (tests / "test_toy.py").write_text(
        "from yieldkit.design.toy import least\n\n"
        "def test_broken():\n    assert False\n\n"
        "def test_least():\n    assert least(2, 3) == 2\n",
        encoding="utf-8",
    )
    return mutants.Workshop(tmp_path / "made", tmp_path, 120.0)


def test_one_is_killed_by_its_test_and_others_live_with_or_without_a_reason(workshop, capsys):
    path = workshop.tree / "yieldkit" / "design" / "toy.py"
    planted = mutants_of(path.read_text(encoding="utf-8"), "yieldkit/design/toy.py")
    chosen = [
        next(each for each in planted if each.after == after)
        for after in ("return max(a, b) + LIMIT", "return (a / 3)", "return a * 4")
    ]
    listed = [
        dict(
            zip(
                ("file", "function", "before", "after"),
                ("yieldkit/design/toy.py", "spare", "return a * 3", "return a * 4"),
                strict=True,
            ),
            why="nobody asks",
        )
    ]
    assert mutants.run(chosen, workshop, listed) == pytest.approx(1.0 / 2.0)
    said = capsys.readouterr().out
    assert "  1 killed tests/design/test_toy.py::test_least" in said
    assert "  2 LIVES" in said
    assert "yieldkit/design/toy.py:18 in spare\n    - return a * 3\n    + return (a / 3)" in said
    assert "  3 LIVES (nobody asks)" in said
    assert "3 mutants: 1 killed, 1 live, 1 equal to the product, 0 out of time; 50.0 %" in said
    assert path.read_text(encoding="utf-8") == TOY.replace("@compiled\n", "")


def test_the_draw_spans_all_wings():
    first = mutants.drawn(mutants.ROOT, 1, 60)
    assert len(first) == 60
    assert len({mutants.wing_of(each.file) for each in first}) >= 6
    assert mutants.wing_of("yieldkit/cli_check.py") == "cli"


def test_every_explained_survivor_is_still_a_mutant():
    for row in mutants.listed_explanations():
        source = (mutants.ROOT / row["file"]).read_text(encoding="utf-8")
        assert any(mutants.explained(each, [row]) for each in mutants_of(source, row["file"])), row
