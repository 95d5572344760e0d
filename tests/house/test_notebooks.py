"""Notebooks use the public names only, and are kept without outputs."""

import ast

import nbformat
import pytest

import yieldkit
import yieldkit.report
from tests.house.layers import ROOT

NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
PUBLIC = {"yieldkit": yieldkit, "yieldkit.report": yieldkit.report}


def inner_imports(source):
    """Return what a cell takes from us that is no public name."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names = [each.name for each in node.names]
            found += [name for name in names if name.startswith("yieldkit") and name not in PUBLIC]
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("yieldkit"):
            door = PUBLIC.get(node.module)
            known = [] if door is None else [*door.__all__, "report"]
            found += [f"{node.module}.{n.name}" for n in node.names if n.name not in known]
    return found


def code_cells(path):
    content = nbformat.read(path, as_version=4)
    return [cell for cell in content.cells if cell.cell_type == "code"]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_import_public_names_only_and_hold_no_outputs(path):
    for cell in code_cells(path):
        assert inner_imports(cell.source) == []
        assert cell.outputs == []
        assert cell.execution_count is None


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_what_notebooks_ask_of_the_report_is_there(path):
    for cell in code_cells(path):
        for node in ast.walk(ast.parse(cell.source)):
            owner = node.value if isinstance(node, ast.Attribute) else None
            if isinstance(owner, ast.Name) and owner.id == "report":
                assert node.attr in yieldkit.report.__all__


@pytest.mark.parametrize(
    "source",
    [
        "from yieldkit.study.comparison.compare import compare",
        "import yieldkit.report.tables.html",
        "from yieldkit import prepare",
        "from yieldkit.report import html",
    ],
)
def test_a_planted_import_of_an_inner_room_is_found(source):
    assert len(inner_imports(source)) == 1
