"""Content checked as a whole: shapes by the models, then the relations between the parts.

Everything that becomes a site passes here, whether it was read, put together or changed.
"""

from __future__ import annotations

from typing import TypeVar

from pydantic import BaseModel, ValidationError

from yieldkit.base.errors import InputError, Problem
from yieldkit.config.reading.content import Content
from yieldkit.config.reading.horizon_file import with_horizon
from yieldkit.config.reading.messages import problems_from
from yieldkit.config.reading.schema_walk import Schema
from yieldkit.config.relations.all import relations
from yieldkit.config.relations.datasheet import plausibility
from yieldkit.config.relations.magnitudes import unlikely_sizes

_MOST_PROBLEMS = 100
Model = TypeVar("Model", bound=BaseModel)


def checked(content: Content, folder: str, model: type[Model]) -> Model:
    """Return content as a sound model, or raise with every problem it has.

    Parameters
    ----------
    content : Content
        What a file holds or would hold.
    folder : str
        Folder from which its relative paths count.
    model : type of BaseModel
        The model of the whole file.

    Raises
    ------
    InputError
        With every problem of shapes, and of relations between parts that are sound by themselves.
    """
    sound = None
    values, problems = with_horizon(content, folder)
    if "folder" in values:
        del values["folder"]
        problems.append(
            Problem(
                content.where(("folder",)),
                "the unknown key 'folder'",
                "a key of the schema",
                remedy="Relative paths count from the site file's own folder.",
            )
        )
    try:
        sound = model.model_validate(values | {"folder": folder})
    except ValidationError as error:
        problems.extend(problems_from(error, content, Schema(model)))
    problems.extend(relations(content, folder))
    problems.extend(plausibility(content))
    located = {problem.where for problem in problems}
    problems.extend(each for each in unlikely_sizes(content) if each.where not in located)
    if problems or sound is None:
        raise InputError(_shortened(problems, content.name))
    return sound


def _shortened(problems: list[Problem], name: str) -> list[Problem]:
    """Return each problem once, and no more of them than a person reads."""
    once = list(dict.fromkeys(problems))
    if len(once) <= _MOST_PROBLEMS:
        return once
    more = Problem(
        name,
        f"{len(once) - _MOST_PROBLEMS} problems more",
        "a site file",
        remedy="Mend the first ones and try again.",
    )
    return [*once[:_MOST_PROBLEMS], more]
