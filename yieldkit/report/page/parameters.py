"""The gate before a notebook's kernel starts: its parameters, parsed and compared.

A misspelt name would otherwise run on defaults and look right; a name with code in it would run
as code.
"""

from __future__ import annotations

import ast
import keyword
import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import nbformat

from yieldkit.base.errors import InputError, Problem, nearest

_TAG = "parameters"
_PLAIN_KINDS = frozenset("biufU")


def checked_parameters(
    notebook: nbformat.NotebookNode, given: Mapping[str, Any], where: str
) -> dict[str, Any]:
    """Return parameters as plain values, if the notebook knows and uses every one.

    Parameters
    ----------
    notebook : NotebookNode
        The notebook, with exactly one code cell tagged `parameters`.
    given : mapping of str to object
        What the caller sets.
    where : str
        The notebook's name, for errors.

    Returns
    -------
    dict
        Text, numbers, truth values, None, and lists and maps of them.

    Raises
    ------
    InputError
        For a missing or second tagged cell, a name that is unknown, unused, overwritten or not
        a name, or a value of another type than the default; all problems at once.
    """
    defaults = default_parameters(notebook, where)
    later = _later_code(notebook)
    problems = _unused(defaults, later, where)
    plain = {}
    for name, value in given.items():
        problem = _unfit(name, value, defaults, where)
        if problem is None:
            plain[name] = as_plain(value)
        else:
            problems.append(problem)
    if problems:
        raise InputError(problems)
    return plain


def default_parameters(notebook: nbformat.NotebookNode, where: str) -> dict[str, Any]:
    """Return the parameters a notebook has, with their defaults.

    Parameters
    ----------
    notebook : NotebookNode
        The notebook.
    where : str
        The notebook's name, for errors.

    Raises
    ------
    InputError
        If there isn't exactly one tagged code cell, or it holds more than plain assignments.
    """
    cells = [cell for cell in notebook.cells if _tagged(cell)]
    if len(cells) != 1 or cells[0].cell_type != "code":
        got = f"{len(cells)} code cells tagged '{_TAG}'" if len(cells) != 1 else "a cell of text"
        remedy = f"Tag the one cell that sets the parameters '{_TAG}'."
        raise InputError((Problem(where, got, "exactly one such cell", remedy=remedy),))
    found: dict[str, Any] = {}
    for statement in _parsed(cells[0].source, where).body:
        name, value = _assignment(statement, where)
        if name in found:
            raise InputError((Problem(f"{where}, {name}", "set twice", "one default"),))
        found[name] = value
    return found


def as_plain(value: Any) -> Any:
    """Return a value as text, number, truth value, None, list or map.

    Parameters
    ----------
    value : object
        Also paths, tuples and numpy numbers, which become plain.

    Raises
    ------
    TypeError
        If it is none of these, or a number that isn't finite.
    """
    if value is None or type(value) in (bool, int, str):
        return value
    if isinstance(value, float) and math.isfinite(value):
        return float(value)
    if isinstance(value, str):
        return str.__str__(value)
    if isinstance(value, Path):
        return str(value)
    if isinstance(value, list | tuple):
        return [as_plain(each) for each in value]
    if isinstance(value, dict) and all(type(key) is str for key in value):
        return {key: as_plain(each) for key, each in value.items()}
    kind = getattr(getattr(value, "dtype", None), "kind", "")
    if kind in _PLAIN_KINDS and value.ndim == 0 and not isinstance(value, float):
        return as_plain(value.item())
    raise TypeError(type(value).__name__)


def _tagged(cell: nbformat.NotebookNode) -> bool:
    return _TAG in cell.get("metadata", {}).get("tags", [])


def _parsed(source: str, where: str) -> ast.Module:
    try:
        return ast.parse(source)
    except SyntaxError as error:
        line = (error.text or "").strip()[:60]
        problem = Problem(where, f"a cell that is no Python ({error.msg}: {line})", "plain Python")
        raise InputError((problem,)) from error


def _assignment(statement: ast.stmt, where: str) -> tuple[str, Any]:
    """Return the name and the value of one plain assignment."""
    target: ast.expr | None = None
    value: ast.expr | None = None
    if isinstance(statement, ast.Assign) and len(statement.targets) == 1:
        target, value = statement.targets[0], statement.value
    elif isinstance(statement, ast.AnnAssign):
        target, value = statement.target, statement.value
    if not isinstance(target, ast.Name) or value is None:
        got = f"'{ast.unparse(statement)[:60]}' in the cell of parameters"
        raise InputError((Problem(where, got, "assignments of plain values only"),))
    try:
        return target.id, ast.literal_eval(value)
    except ValueError as error:
        problem = Problem(f"{where}, {target.id}", "a computed default", "a plain value")
        raise InputError((problem,)) from error


def _later_code(notebook: nbformat.NotebookNode) -> list[str]:
    place = next(index for index, cell in enumerate(notebook.cells) if _tagged(cell))
    return [cell.source for cell in notebook.cells[place + 1 :] if cell.cell_type == "code"]


def _unused(defaults: Iterable[str], later: list[str], where: str) -> list[Problem]:
    """Return a problem for each parameter that has no effect."""
    names = [
        node
        for source in later
        for node in ast.walk(_parsed(source, where))
        if isinstance(node, ast.Name)
    ]
    read = {node.id for node in names if isinstance(node.ctx, ast.Load)}
    stored = {node.id for node in names if isinstance(node.ctx, ast.Store)}
    problems = []
    for name in defaults:
        if name not in read:
            got, needed = "a parameter that no later cell reads", "only parameters in use"
            problems.append(Problem(f"{where}, {name}", got, needed))
        elif name in stored:
            got, needed = "a parameter that a later cell sets again", "parameters that hold"
            problems.append(Problem(f"{where}, {name}", got, needed))
    return problems


def _unfit(name: str, value: Any, defaults: Mapping[str, Any], where: str) -> Problem | None:
    """Return what is wrong with one given parameter, if anything."""
    if not isinstance(name, str) or not name.isidentifier() or keyword.iskeyword(name):
        return Problem(where, f"the parameter name {name!r}", "a plain name")
    if name not in defaults:
        close = nearest(name, defaults)
        return Problem(
            where,
            f"the unknown parameter '{name}'",
            "one of " + ", ".join(sorted(defaults)) if defaults else "no parameter at all",
            remedy=f"Did you mean '{close}'?" if close else "",
        )
    try:
        plain = as_plain(value)
    except TypeError as error:
        return Problem(
            f"{where}, {name}", f"{value!r} ({error})", "text, a finite number or a list of them"
        )
    default = defaults[name]
    if default is None or _same_type(plain, as_plain(default)):
        return None
    return Problem(
        f"{where}, {name}",
        f"{plain!r}, of type {type(plain).__name__}",
        f"type {type(default).__name__}, such as {default!r}",
    )


def _same_type(plain: Any, default: Any) -> bool:
    """Return whether a value may stand for a default; a whole number may for a number."""
    if type(default) is float and type(plain) is int:
        return True
    return type(plain) is type(default)
