"""The script that plants small mutants: what it plants, and what it says of their end."""

import ast
import shutil

import pytest

from tests import mutants
from tests.slips import mutants_of

pytestmark = pytest.mark.slow

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
    book = mutants.Book(None)
    assert mutants.run(chosen, workshop, listed, book) == pytest.approx(1.0 / 2.0)
    said = capsys.readouterr().out
    assert "  1 killed tests/design/test_toy.py::test_least" in said
    assert "  2 LIVES" in said
    assert "yieldkit/design/toy.py:18 in spare\n    - return a * 3\n    + return (a / 3)" in said
    assert "  3 LIVES (nobody asks)" in said
    assert "3 mutants: 1 killed, 1 live, 1 equal to the product, 0 out of time; 50.0 %" in said
    assert path.read_text(encoding="utf-8") == TOY.replace("@compiled\n", "")


def test_a_broken_run_goes_on_behind_its_last_end(workshop, tmp_path, capsys, monkeypatch):
    path = workshop.tree / "yieldkit" / "design" / "toy.py"
    planted = mutants_of(path.read_text(encoding="utf-8"), "yieldkit/design/toy.py")
    chosen = [
        next(each for each in planted if each.after == after)
        for after in ("return max(a, b) + LIMIT", "return (a / 3)")
    ]
    book = tmp_path / "book.csv"
    mutants.run(chosen[:1], workshop, [], mutants.Book(book))
    tried = []
    real = mutants.Workshop.verdict

    def watched(self, mutant, folders):
        tried.append(mutant.after)
        return real(self, mutant, folders)

    monkeypatch.setattr(mutants.Workshop, "verdict", watched)
    assert mutants.run(chosen, workshop, [], mutants.Book(book)) == pytest.approx(1.0 / 2.0)
    assert tried == ["return (a / 3)"]
    assert "2 mutants: 1 killed, 1 live" in capsys.readouterr().out
    assert mutants.run(chosen, workshop, [], mutants.Book(book)) == pytest.approx(1.0 / 2.0)
    assert tried == ["return (a / 3)"]
    lines = book.read_text(encoding="utf-8").splitlines()
    assert lines[0] == "file,function,before,after,word,by,seconds"
    book.write_text("\n".join(lines[:1] + lines[2:]) + "\n", encoding="utf-8")
    mutants.run(chosen, workshop, [], mutants.Book(book))
    assert tried == ["return (a / 3)", "return max(a, b) + LIMIT"]


PHYSICS = """
from yieldkit.physics.compiled import compiled

FACTOR = 2.0


def plain(a):
    return a + FACTOR


@compiled
def kernel(a):
    return a * FACTOR
"""


def test_a_slip_outside_kernels_recompiles_nothing_and_one_in_a_constant_does(
    tmp_path, monkeypatch
):
    monkeypatch.setenv("PYTEST_DISABLE_PLUGIN_AUTOLOAD", "1")
    monkeypatch.setenv("YIELDKIT_CACHE", str(tmp_path / "cache"))
    made = tmp_path / "made"
    physics, tests = made / "yieldkit" / "physics", made / "tests" / "physics" / "circuit"
    physics.mkdir(parents=True)
    tests.mkdir(parents=True)
    (physics.parent / "__init__.py").touch()
    (physics.parent / "base").mkdir()
    for room in ("yieldkit/base/compiling.py", *mutants.COMPILING):
        shutil.copy(mutants.ROOT / room, made / room)
    (physics / "toy.py").write_text(PHYSICS, encoding="utf-8")
    (made / "pytest.ini").write_text("[pytest]\npythonpath = .\n", encoding="utf-8")
    (tests / "test_toy.py").write_text(
        "from yieldkit.physics.toy import kernel, plain\n\n"
        "def test_toy():\n    assert kernel(3.0) == 6.0\n    assert plain(3.0) == 5.0\n",
        encoding="utf-8",
    )
    workshop = mutants.Workshop(made, tmp_path, 300.0)
    planted = {each.after: each for each in mutants_of(PHYSICS, "yieldkit/physics/toy.py")}
    assert set(planted) == {"FACTOR = 3.0", "return (a - FACTOR)"}

    def caches():
        return {each.name for each in (tmp_path / "cache").iterdir()}

    files = ["tests/physics/circuit/test_toy.py"]
    assert workshop._pytest(files)[0] == 0
    sound = caches()
    assert len(sound) == 1
    end = workshop.verdict(planted["return (a - FACTOR)"], ("tests/physics/circuit",))
    assert (end.word, end.by) == (mutants.KILLED, "tests/physics/circuit/test_toy.py::test_toy")
    assert caches() == sound
    end = workshop.verdict(planted["FACTOR = 3.0"], ("tests/physics/circuit",))
    assert end.word == mutants.KILLED
    assert len(caches()) == 2
    for room in mutants.COMPILING:
        assert (workshop.tree / room).read_bytes() == (made / room).read_bytes()
    left = workshop.tree / "yieldkit" / "physics" / "toy.py"
    assert left.read_text(encoding="utf-8") == PHYSICS


def test_the_draw_spans_all_wings():
    first = mutants.drawn(mutants.ROOT, 1, 60)
    assert len(first) == 60
    assert len({mutants.wing_of(each.file) for each in first}) >= 6
    assert mutants.wing_of("yieldkit/cli/check.py") == "cli"


def test_every_explained_survivor_is_still_a_mutant():
    for row in mutants.listed_explanations():
        source = (mutants.ROOT / row["file"]).read_text(encoding="utf-8")
        assert any(mutants.explained(each, [row]) for each in mutants_of(source, row["file"])), row
