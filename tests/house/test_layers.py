"""Imports go down only and never in a circle; each rule is shown to bite on a planted offender."""

import ast
import textwrap

import pytest

from tests.house.layers import BELOW, PACKAGE, imports, offences, rooms, wing


def planted(module, source):
    """Return the house's trees with one more room, or with lines added to one."""
    trees = rooms(PACKAGE)
    added = ast.parse(textwrap.dedent(source))
    if module in trees:
        trees[module].body.extend(added.body)
    else:
        trees[module] = added
    return trees


def test_no_import_breaks_the_plan():
    assert offences(rooms(PACKAGE)) == []


def test_every_wing_is_in_the_plan_and_has_rooms():
    found = {wing(module) for module in rooms(PACKAGE)}
    assert found == set(BELOW)


def test_the_lazy_tables_are_read():
    lazy = {(each.importer, each.target) for each in imports(rooms(PACKAGE))}
    assert ("yieldkit", "yieldkit.study.simulate") in lazy
    assert ("yieldkit.cli", "yieldkit.cli_study") in lazy


@pytest.mark.parametrize(
    ("module", "source", "told"),
    [
        (
            "yieldkit.physics.planted",
            "from yieldkit.config.site import Site",
            "physics imports upwards or sideways from yieldkit.config.site",
        ),
        (
            "yieldkit.config.planted",
            "import yieldkit.physics.diode",
            "config imports upwards or sideways from yieldkit.physics.diode",
        ),
        (
            "yieldkit.design.planted",
            "from yieldkit.weather import readers",
            "design imports upwards or sideways from yieldkit.weather.readers",
        ),
        (
            "yieldkit.study.planted",
            "from yieldkit import cli",
            "study imports upwards or sideways from yieldkit.cli",
        ),
        (
            "yieldkit.words.planted",
            "from yieldkit import simulate",
            "words imports upwards or sideways from yieldkit",
        ),
        (
            "yieldkit.study.planted",
            """
            def late():
                from yieldkit.physics import diode
                return diode
            """,
            "imports yieldkit.physics.diode inside a function",
        ),
        (
            "yieldkit.report.planted",
            """
            from importlib import import_module
            late = lambda: import_module("yieldkit.words.names")
            """,
            "imports yieldkit.words.names inside a function",
        ),
        ("yieldkit.study.planted", "from . import simulate", "relative import"),
        ("yieldkit.study.planted", "import yieldkit.nowhere", "which is no room"),
        (
            "yieldkit.words.errors",
            "import yieldkit.words.shipped",
            "circle: yieldkit.words.errors -> yieldkit.words.shipped -> yieldkit.words.errors",
        ),
        ("yieldkit", '_DOOR = {"x": "yieldkit.study.nowhere"}', "which is no room"),
        ("yieldkit.cli", '_TARGETS = {"x": "yieldkit.cli_nowhere:x"}', "which is no room"),
    ],
)
def test_a_planted_offender_is_found(module, source, told):
    found = offences(planted(module, source))
    assert any(told in sentence for sentence in found), found
