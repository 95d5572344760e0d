"""The public door: what it lets out, and that opening it costs nothing."""

import ast
import re
import resource
import subprocess
import sys
import tomllib

import pytest

import yieldkit
import yieldkit.report
from tests.house.layers import ROOT

HEAVY = ("pandas", "pvlib", "numba", "xarray", "matplotlib", "scipy", "numpy", "papermill")


def test_the_door_is_a_sorted_list_and_nothing_else_leaks():
    assert list(yieldkit.__all__) == sorted(yieldkit.__all__)
    assert dir(yieldkit) == yieldkit.__all__
    rooms = {"base", "cli", "config", "design", "physics", "report", "study", "weather"}
    rooms |= {name for name in vars(yieldkit) if name.startswith("__main__")}
    public = {name for name in vars(yieldkit) if not name.startswith("_")}
    assert public - rooms <= {"import_module", "Any", "TYPE_CHECKING"}


@pytest.mark.parametrize("door", [yieldkit, yieldkit.report], ids=lambda door: door.__name__)
def test_every_name_of_the_door_opens_and_is_the_rooms_own(door):
    assert list(door.__all__) == sorted(door.__all__) == dir(door)
    for name in door.__all__:
        member = getattr(door, name)
        assert member.__module__ == door._DOOR[name], name
        assert member.__name__ == name


def shown_to_type_checkers(source):
    """Return the names that a module imports only for type checkers, each with its room."""
    found = {}
    for node in ast.parse(source).body:
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            for each in node.body:
                # A name that isn't given once more is nobody else's to use, for a strict checker.
                found |= {one.asname: each.module for one in each.names if one.asname == one.name}
    return found


def test_type_checkers_see_the_same_names_behind_the_door():
    source = (ROOT / "yieldkit" / "__init__.py").read_text(encoding="utf-8")
    assert shown_to_type_checkers(source) == yieldkit._DOOR
    inner = (ROOT / "yieldkit" / "report" / "__init__.py").read_text(encoding="utf-8")
    assert shown_to_type_checkers(inner) == yieldkit.report._DOOR
    without = re.sub(r"\n.* import compare as compare(?=\n)", "", source)
    assert set(yieldkit._DOOR) - set(shown_to_type_checkers(without)) == {"compare"}


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match=r"module 'yieldkit\.report' has no attribute 'pic'"):
        yieldkit.report.pic  # noqa: B018
    with pytest.raises(AttributeError, match="module 'yieldkit' has no attribute 'simulat'"):
        yieldkit.simulat  # noqa: B018


def imported_by(*arguments):
    """Return the names of all modules that a Python process imported."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return {line.rsplit("|", 1)[1].strip() for line in done.stderr.splitlines() if "|" in line}


@pytest.mark.parametrize(
    "arguments",
    [
        ("-m", "yieldkit", "--help"),
        ("-m", "yieldkit", "compare", "--help"),
        ("-m", "yieldkit", "--version"),
        ("-c", "import yieldkit"),
    ],
    ids=["help", "help of compare", "version", "import"],
)
def test_help_and_import_load_no_library(arguments):
    loaded = imported_by(*arguments)
    assert "yieldkit" in loaded
    heavy = [name for name in loaded if name.split(".")[0] in HEAVY]
    assert heavy == []


def test_import_of_a_room_would_be_noticed():
    loaded = imported_by("-c", "import yieldkit; yieldkit.load_site")
    assert "pydantic" in loaded


def test_a_simulation_loads_no_library_it_has_no_use_for():
    loaded = imported_by("-c", "import yieldkit.cli.simulate")
    assert "scipy.optimize" in loaded
    unused = {"scipy.signal", "matplotlib", "IPython", "nbformat", "papermill"}
    assert loaded & unused == set()


def seconds(*arguments):
    """Return the least processor time of five runs of Python, which a busy machine moves little."""
    times = []
    for _ in range(5):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *arguments], capture_output=True, timeout=60, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(times)


def test_import_takes_under_a_tenth_and_help_under_a_fifth_of_a_second():
    bare = seconds("-c", "pass")
    assert seconds("-c", "import yieldkit") - bare < 0.1
    assert seconds("-m", "yieldkit", "--help") - bare < 0.2


def test_changelog_begins_with_the_version_of_pyproject():
    version = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"]
    headings = re.findall(r"^## \[([^\]]+)\]", (ROOT / "CHANGELOG.md").read_text(), re.MULTILINE)
    assert headings[0] == version
