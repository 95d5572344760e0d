"""The house's plan, read from the syntax trees of its rooms."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import yieldkit

PACKAGE = Path(yieldkit.__file__).parent
ROOT = PACKAGE.parent

BELOW = {
    "cli": {"report", "study", "design", "weather", "physics", "config", "base"},
    "report": {"study", "design", "weather", "physics", "config", "base"},
    "study": {"design", "weather", "physics", "config", "base"},
    "design": {"physics", "config", "base"},
    "weather": {"physics", "config", "base"},
    "physics": {"base"},
    "config": {"base"},
    "base": set(),
}
"""Wing, and the wings it may import from."""

INSIDE: dict[str, dict[str, set[str]]] = {
    "base": {},
    "cli": {},
    "config": {
        "models": set(),
        "reading": set(),
        "log": {"models", "reading"},
        "plan": {"models", "reading"},
        "relations": {"models", "reading"},
        "site": {"models", "reading", "relations"},
    },
    "design": {
        "standards": set(),
        "equipment": {"standards"},
        "roof": set(),
        "checks": {"equipment", "roof", "standards"},
        "permitted": {"checks", "equipment", "roof"},
    },
    "physics": {"ac": set(), "circuit": set(), "irradiance": set(), "module": set()},
    "report": {
        "tables": set(),
        "words": set(),
        "figures": {"tables"},
        "offer": {"figures", "tables", "words"},
        "page": {"figures", "offer", "tables", "words"},
    },
    "study": {
        "simulation": set(),
        "wiring_energies": {"simulation"},
        "several_inverters": {"simulation", "wiring_energies"},
        "uncertainty": {"simulation", "wiring_energies"},
        "estimate": {"simulation", "uncertainty", "wiring_energies"},
        "logs": {"simulation"},
        "handover": {"logs", "simulation", "uncertainty", "wiring_energies"},
        "review": {
            "estimate",
            "handover",
            "logs",
            "simulation",
            "uncertainty",
            "wiring_energies",
        },
        "ranking": {"several_inverters", "simulation", "uncertainty", "wiring_energies"},
        "comparison": {"ranking", "simulation", "uncertainty", "wiring_energies"},
        "results": {
            "comparison",
            "estimate",
            "handover",
            "ranking",
            "review",
            "several_inverters",
            "simulation",
            "uncertainty",
            "wiring_energies",
        },
        "batch": {
            "comparison",
            "ranking",
            "results",
            "simulation",
            "uncertainty",
            "wiring_energies",
        },
    },
    "weather": {"quality": set(), "readers": {"quality"}, "services": {"quality", "readers"}},
}
"""Wing, its folders, and the folders of the same wing that each may import from.

A room that stands beside the folders is the wing's ground: all of them may use it, and it uses
none of them. Inside a folder imports may run as they like, but not in a circle.
"""

LAZY_TABLES = {
    "yieldkit": "_DOOR",
    "yieldkit.cli.main": "_TARGETS",
    "yieldkit.report": "_DOOR",
    "yieldkit.study.batch.bases": "_LATER",
    "yieldkit.study.batch.sweep": "_LATER",
    "yieldkit.study.batch.worker": "_LATER",
}
"""Modules whose table names what they load later."""


REPORT_TAKES: dict[str, set[str]] = {
    "batch.combined": {"Dimension", "Runs"},
    "batch.effects": {"Effect", "Grid"},
    "batch.explained": {"Explanation"},
    "batch.run": {"Run"},
    "batch.what_if": {"Best", "WhatIf"},
    "comparison.better": {"Better"},
    "comparison.compare": {"Comparison"},
    "comparison.details": {"Details"},
    "comparison.months": {"monthly_table"},
    "estimate.money_result": {"INTERNAL_RATE", "LEVELISED_COST", "Money"},
    "estimate.result": {"Estimate"},
    "estimate.spread": {"ENOUGH_YEARS", "MEASURED", "STATED"},
    "handover.beside_expected": {"Judged", "NOT_JUDGED"},
    "handover.log_verdict": {"LogVerdict", "NO_METER"},
    "handover.points": {"Operating", "USUAL_C"},
    "handover.reading": {"INPUT", "INSTRUMENTS", "QUANTITIES"},
    "handover.sheet": {"Handover", "SheetInverter", "SheetString"},
    "handover.told_slips": {"in_words", "percent"},
    "handover.verdict": {"Verdict"},
    "handover.without_meter": {"AZIMUTH", "CLOCK", "SECOND_SENSOR", "TILT"},
    "logs.plant_log": {"COUNTED", "NIGHT"},
    "ranking.proposal": {"Proposal"},
    "review.result": {"Review", "Sign", "Span"},
    "several_inverters.choice": {"Choice"},
    "simulation.budget_steps": {"RATED", "left_out"},
    "simulation.labels": {"string_label"},
    "simulation.limited_hours": {
        "energy_held_back",
        "flagged",
        "limit_hours",
        "limit_steps",
        "limited_steps",
        "limited_time",
    },
    "simulation.month_weights": {"result_weights", "weighed"},
    "simulation.module_shadows": {"ShadedModules", "Shadows"},
    "simulation.period": {"local_times", "step_hours"},
    "simulation.weather": {"weather_cautions"},
    "uncertainty.unknowns": {"unknowns"},
    "uncertainty.verdict": {"Judgement", "SAME_PERCENT"},
}
"""Rooms of study, and the names that report may take from each: results, and what reads them.

Nothing that simulates, ranks, draws or solves a circuit is among them: what a picture shows was
computed before.
"""


class Imported(NamedTuple):
    """One import: who, what, in which line, inside a function, and which names of it."""

    importer: str
    target: str
    line: int
    inside: bool
    names: frozenset[str] = frozenset()


def rooms(package: Path) -> dict[str, ast.Module]:
    """Return module name and syntax tree of each room of a package."""
    trees = {}
    for path in sorted(package.rglob("*.py")):
        parts = path.relative_to(package.parent).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        trees[name] = _parsed(path.read_text(encoding="utf-8"), str(path))
    return trees


@cache
def _parsed(source: str, name: str) -> ast.Module:
    return ast.parse(source, filename=name)


def wing(module: str) -> str:
    """Return the wing a module belongs to; the door and the commands are one wing."""
    parts = module.split(".")
    return "cli" if len(parts) == 1 or parts[1] == "__main__" else parts[1]


def folder(module: str) -> str:
    """Return the folder of a wing that a module stands in; "" beside the folders."""
    parts = module.split(".")
    package = len(parts) == 3 and PACKAGE.parent.joinpath(*parts).is_dir()
    return parts[2] if len(parts) > 3 or package else ""


def imports(trees: dict[str, ast.Module]) -> Iterator[Imported]:
    """Give each import of the house's own rooms, written out or named in a lazy table."""
    for module, tree in trees.items():
        for node, inside in _loading(tree):
            for target, names in _targets(node, module, trees).items():
                yield Imported(module, target, node.lineno, inside, frozenset(names))
        for target, line in _lazy(module, tree):
            yield Imported(module, target, line, False)


@cache
def _loading(tree: ast.Module) -> tuple[tuple[ast.stmt | ast.expr, bool], ...]:
    """Return the statements and calls of a room that may load others, and which are in functions.

    A tree is read once: whoever adds to one makes a new one.
    """
    inside = {
        id(inner)
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for inner in ast.walk(function)
    }
    kinds = ast.Import | ast.ImportFrom | ast.Call
    return tuple((node, id(node) in inside) for node in ast.walk(tree) if isinstance(node, kinds))


def _targets(node: ast.AST, module: str, trees: dict[str, ast.Module]) -> dict[str, set[str]]:
    """Return the rooms that a statement or call loads, and which names it takes from each."""
    if isinstance(node, ast.Import):
        return {each.name: {"*"} for each in node.names if _own(each.name)}
    if isinstance(node, ast.ImportFrom):
        if node.level:
            return {f"{module} (relative)": set()}
        if not _own(node.module or ""):
            return {}
        found: dict[str, set[str]] = {}
        for each in node.names:
            room = f"{node.module}.{each.name}"
            if room in trees:
                found[room] = {"*"}
            else:
                found.setdefault(str(node.module), set()).add(each.name)
        return found
    if isinstance(node, ast.Call):
        called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        called = node.func.id if isinstance(node.func, ast.Name) else called
        first = node.args[0] if node.args else None
        if called in ("import_module", "__import__") and isinstance(first, ast.Constant):
            return {str(first.value): {"*"}} if _own(str(first.value)) else {}
    return {}


def _own(name: str) -> bool:
    return name.split(".")[0] == "yieldkit"


def _lazy(module: str, tree: ast.Module) -> Iterator[tuple[str, int]]:
    table = LAZY_TABLES.get(module)
    for node in tree.body:
        if not isinstance(node, ast.Assign) or not isinstance(node.targets[0], ast.Name):
            continue
        if node.targets[0].id == table:
            for value in ast.literal_eval(node.value).values():
                yield value.split(":")[0], node.lineno


def offences(trees: dict[str, ast.Module]) -> list[str]:
    """Return what in the imports breaks the plan, a sentence each."""
    found = []
    edges: dict[str, set[str]] = {module: set() for module in trees}
    for each in imports(trees):
        place = f"{each.importer} line {each.line}"
        if each.target.endswith("(relative)"):
            found.append(f"{place}: relative import")
            continue
        if each.target not in trees:
            found.append(f"{place}: imports {each.target}, which is no room")
            continue
        if each.inside:
            found.append(f"{place}: imports {each.target} inside a function")
        above, below = wing(each.importer), wing(each.target)
        if above != below and below not in BELOW.get(above, set()):
            found.append(f"{place}: {above} imports upwards or sideways from {each.target}")
        if above == below and _crosses(each):
            own = folder(each.importer) or "the ground"
            found.append(f"{place}: inside {above}, {own} may not import from {each.target}")
        if above == "report" and below in ("physics", "study", "weather") and _computes(each):
            found.append(f"{place}: report may not take what computes from {each.target}")
        edges[each.importer].add(each.target)
    return found + circles(edges)


def _computes(each: Imported) -> bool:
    """Return whether report takes more than results and what reads them."""
    allowed = REPORT_TAKES.get(each.target.removeprefix("yieldkit.study."), set())
    return not each.names <= allowed


def _crosses(each: Imported) -> bool:
    """Return whether an import inside a wing breaks the order of its folders."""
    if each.importer in LAZY_TABLES and each.importer.count(".") < 2:
        return False
    own, other = folder(each.importer), folder(each.target)
    if other in ("", own):
        return False
    return other not in INSIDE.get(wing(each.importer), {}).get(own, set())


def circles(edges: dict[str, set[str]]) -> list[str]:
    """Return each circle among modules that import each other."""
    found, done = [], set()

    def walk(module: str, road: list[str]) -> None:
        if module in road:
            found.append("circle: " + " -> ".join([*road[road.index(module) :], module]))
            return
        if module in done:
            return
        for target in sorted(edges.get(module, ())):
            walk(target, [*road, module])
        done.add(module)

    for module in sorted(edges):
        walk(module, [])
    return found
