"""Imports go down only and never in a circle; each rule is shown to bite on a planted offender."""

import ast
import textwrap

import pytest

from tests.house.layers import BELOW, INSIDE, PACKAGE, folder, imports, offences, rooms, wing

pytestmark = pytest.mark.slow


def planted(module, source):
    """Return the house's trees with one more room, or with lines added to one."""
    trees = rooms(PACKAGE)
    added = ast.parse(textwrap.dedent(source))
    before = trees[module].body if module in trees else []
    return trees | {module: ast.Module(body=[*before, *added.body], type_ignores=[])}


def test_no_import_breaks_the_plan():
    assert offences(rooms(PACKAGE)) == []


def test_every_wing_is_in_the_plan_and_has_rooms():
    found = {wing(module) for module in rooms(PACKAGE)}
    assert found == set(BELOW)


def test_every_folder_is_in_the_plan():
    found = {name: set() for name in BELOW}
    for module in rooms(PACKAGE):
        if folder(module):
            found[wing(module)].add(folder(module))
    assert found == {name: set(inside) for name, inside in INSIDE.items()}


def test_the_lazy_tables_are_read():
    lazy = {(each.importer, each.target) for each in imports(rooms(PACKAGE))}
    assert ("yieldkit", "yieldkit.study.simulation.simulate") in lazy
    assert ("yieldkit.cli.main", "yieldkit.cli.compare") in lazy


@pytest.mark.parametrize(
    ("module", "source", "told"),
    [
        (
            "yieldkit.physics.planted",
            "from yieldkit.config.site.site import Site",
            "physics imports upwards or sideways from yieldkit.config.site.site",
        ),
        (
            "yieldkit.config.planted",
            "import yieldkit.physics.circuit.diode",
            "config imports upwards or sideways from yieldkit.physics.circuit.diode",
        ),
        (
            "yieldkit.design.planted",
            "from yieldkit.weather.readers import read",
            "design imports upwards or sideways from yieldkit.weather.readers.read",
        ),
        (
            "yieldkit.study.planted",
            "from yieldkit.cli import main",
            "study imports upwards or sideways from yieldkit.cli.main",
        ),
        (
            "yieldkit.base.planted",
            "from yieldkit import simulate",
            "base imports upwards or sideways from yieldkit",
        ),
        (
            "yieldkit.study.planted",
            """
            def late():
                from yieldkit.physics.circuit import diode
                return diode
            """,
            "imports yieldkit.physics.circuit.diode inside a function",
        ),
        (
            "yieldkit.report.planted",
            """
            from importlib import import_module
            late = lambda: import_module("yieldkit.base.quantities")
            """,
            "imports yieldkit.base.quantities inside a function",
        ),
        ("yieldkit.study.planted", "from . import simulate", "relative import"),
        ("yieldkit.study.planted", "import yieldkit.nowhere", "which is no room"),
        (
            "yieldkit.base.errors",
            "import yieldkit.base.shipped",
            "circle: yieldkit.base.errors -> yieldkit.base.shipped -> yieldkit.base.errors",
        ),
        ("yieldkit", '_DOOR = {"x": "yieldkit.study.nowhere"}', "which is no room"),
        ("yieldkit.cli.main", '_TARGETS = {"x": "yieldkit.cli.nowhere:x"}', "which is no room"),
        (
            "yieldkit.config.reading.planted",
            "from yieldkit.config.relations import wiring",
            "inside config, reading may not import from yieldkit.config.relations.wiring",
        ),
        (
            "yieldkit.study.uncertainty.planted",
            "import yieldkit.study.ranking.propose",
            "inside study, uncertainty may not import from yieldkit.study.ranking.propose",
        ),
        (
            "yieldkit.physics.compiled",
            "from yieldkit.physics.circuit import diode",
            "inside physics, the ground may not import from yieldkit.physics.circuit.diode",
        ),
        (
            "yieldkit.report.planted",
            "from yieldkit.study.comparison.lead_sizes import lead_options",
            "report may not take what computes from yieldkit.study.comparison.lead_sizes",
        ),
        (
            "yieldkit.report.planted",
            "from yieldkit.study.comparison.compare import Comparison, compare",
            "report may not take what computes from yieldkit.study.comparison.compare",
        ),
        (
            "yieldkit.report.planted",
            "from yieldkit.study.simulation import trackers",
            "report may not take what computes from yieldkit.study.simulation.trackers",
        ),
        (
            "yieldkit.report.planted",
            "import yieldkit.physics.circuit.api",
            "report may not take what computes from yieldkit.physics.circuit.api",
        ),
        ("yieldkit.report", '_DOOR = {"x": "yieldkit.report.nowhere"}', "which is no room"),
    ],
)
def test_a_planted_offender_is_found(module, source, told):
    found = offences(planted(module, source))
    assert any(told in sentence for sentence in found), found
