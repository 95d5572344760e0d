"""The gate before a notebook's kernel starts: its parameters, parsed and compared.

A misspelt name would otherwise run on defaults and look right; a name with code in it would run
as code.
"""

from __future__ import annotations

import ast
import keyword
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import nbformat

from yieldkit.words.errors import InputError, Problem, nearest

_TAG = "parameters"
_PLAIN = (str, int, float, bool, type(None))


def checked_parameters(
    notebook: nbformat.NotebookNode, given: Mapping[str, Any], where: str
) -> dict[str, Any]:
    """Return parameters as plain values, if the notebook knows and uses every one.

    Parameters
    ----------
    notebook : NotebookNode
        The notebook, with exactly one cell tagged `parameters`.
    given : mapping of str to object
        What the caller sets.
    where : str
        The notebook's name, for errors.

    Returns
    -------
    dict
        Text, numbers, truth values, None and lists of them.

    Raises
    ------
    InputError
        For a missing or second tagged cell, a name that is unknown, unused or not a name, or a
        value of another type than the default.
    """
    cells = [c for c in notebook.cells if _TAG in c.get("metadata", {}).get("tags", [])]
    if len(cells) != 1:
        raise InputError(
            (Problem(where, f"{len(cells)} cells tagged '{_TAG}'", "exactly one such cell"),)
        )
    defaults = _defaults(cells[0].source, where)
    later = notebook.cells[notebook.cells.index(cells[0]) + 1 :]
    read = _names_read(later)
    problems = [
        Problem(
            f"{where}, {name}", "a parameter that no later cell reads", "only parameters in use"
        )
        for name in defaults
        if name not in read
    ]
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


def _defaults(source: str, where: str) -> dict[str, Any]:
    found = {}
    for statement in ast.parse(source).body:
        if not isinstance(statement, ast.Assign) or not isinstance(statement.targets[0], ast.Name):
            continue
        try:
            found[statement.targets[0].id] = ast.literal_eval(statement.value)
        except ValueError as error:
            name = statement.targets[0].id
            problem = Problem(f"{where}, {name}", "a computed default", "a plain value")
            raise InputError((problem,)) from error
    return found


def _names_read(cells: list[nbformat.NotebookNode]) -> set[str]:
    read = set()
    for cell in cells:
        if cell.cell_type != "code":
            continue
        for node in ast.walk(ast.parse(cell.source)):
            if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
                read.add(node.id)
    return read


def _unfit(name: str, value: Any, defaults: dict[str, Any], where: str) -> Problem | None:
    if not isinstance(name, str) or not name.isidentifier() or keyword.iskeyword(name):
        return Problem(where, f"the parameter name {name!r}", "a plain name")
    if name not in defaults:
        close = nearest(name, defaults)
        return Problem(
            where,
            f"the unknown parameter '{name}'",
            "one of " + ", ".join(sorted(defaults)),
            remedy=f"Did you mean '{close}'?" if close else "",
        )
    try:
        plain = as_plain(value)
    except TypeError:
        return Problem(
            f"{where}, {name}", f"a {type(value).__name__}", "text, a number or a list of them"
        )
    default = defaults[name]
    same = default is None or isinstance(plain, type(default))
    number = isinstance(default, float) and isinstance(plain, int) and not isinstance(plain, bool)
    mixed = isinstance(plain, bool) != isinstance(default, bool) and default is not None
    if (same or number) and not mixed:
        return None
    return Problem(
        f"{where}, {name}",
        f"{plain!r}, a {type(plain).__name__}",
        f"a {type(default).__name__}, such as {default!r}",
    )


def as_plain(value: Any) -> Any:
    """Return a value as text, number, truth value, None or list.

    Raises
    ------
    TypeError
        If it is none of these and no path or numpy number either.
    """
    if isinstance(value, Path):
        return str(value)
    if type(value) in _PLAIN:
        return value
    if isinstance(value, list | tuple):
        return [as_plain(each) for each in value]
    if isinstance(value, dict):
        return {str(key): as_plain(each) for key, each in value.items()}
    if hasattr(value, "item") and getattr(value, "ndim", None) == 0:
        return as_plain(value.item())
    raise TypeError(type(value).__name__)
