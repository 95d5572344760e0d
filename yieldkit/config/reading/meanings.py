"""What the fields of a model mean, as it stands below each in the source; read when asked for."""

from __future__ import annotations

import ast
import inspect
from functools import cache
from itertools import pairwise
from textwrap import dedent

from pydantic import BaseModel


@cache
def meanings(model: type[BaseModel]) -> dict[str, str]:
    """Return what the fields of a model mean: the text that stands below each in its source.

    Parameters
    ----------
    model : type of BaseModel
        The model; its fields may come from those it builds on.
    """
    found: dict[str, str] = {}
    for kind in reversed(model.__mro__):
        if issubclass(kind, BaseModel) and kind is not BaseModel:
            found |= _written_below(kind)
    return found


def _written_below(kind: type[BaseModel]) -> dict[str, str]:
    (written,) = ast.parse(dedent(inspect.getsource(kind))).body
    assert isinstance(written, ast.ClassDef)
    return {
        field.target.id: inspect.cleandoc(text.value.value)
        for field, text in pairwise(written.body)
        if isinstance(field, ast.AnnAssign)
        and isinstance(field.target, ast.Name)
        and isinstance(text, ast.Expr)
        and isinstance(text.value, ast.Constant)
        and isinstance(text.value.value, str)
    }
