"""What a model's complaint means in words a person can use."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ValidationError

from yieldkit.words.errors import Problem, nearest

_BEARINGS = "compass degrees: 0 north, 90 east, 180 south, 270 west"


def problems_from(
    error: ValidationError, root: Any, place: Any, models: dict[str, type[BaseModel]]
) -> list[Problem]:
    """Turn pydantic's errors into problems with file, line, value, need and remedy.

    Parameters
    ----------
    error : ValidationError
        What pydantic found.
    root : map
        The file's content, for nearest names.
    place : callable
        From a location to the words "file line N, key".
    models : dict
        Models by name, to suggest their field names.
    """
    return [
        _problem(item, root, place, models)
        for item in error.errors(include_url=False)
        # A list whose entries all failed is called too short as well, which misleads.
        if not (item["type"] == "too_short" and item["input"])
    ]


def _problem(item: Any, root: Any, place: Any, models: dict[str, type[BaseModel]]) -> Problem:
    location = tuple(item["loc"])
    kind = item["type"]
    where = place(location)
    value = item.get("input")
    key = str(location[-1]) if location else ""
    if kind == "extra_forbidden":
        close = nearest(key, _field_names(models))
        return Problem(
            where,
            f"the unknown key '{key}'",
            "a key of the schema",
            remedy=f"Did you mean '{close}'?" if close else "See `yieldkit schema`.",
        )
    if kind == "missing":
        return Problem(where, f"no '{key}'", "a value for it", remedy=_about(key, models))
    special = _special(key, value)
    if special is not None:
        return Problem(where, show(value), *special)
    return Problem(where, show(value), _needed(item), remedy=_about(key, models))


def _special(key: str, value: Any) -> tuple[str, str, str] | None:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if key == "azimuth_deg" and number:
        turned = value % 360
        return (
            f"{_BEARINGS}",
            "Counted from south, or from north to the west?",
            f"For {'east' if value == -90 else 'this bearing from north'} write "
            f"{90 if value == -90 else turned:g}",
        )
    if key == "tilt_deg" and number:
        return (
            "degrees from horizontal, 0 to 90",
            "A roof pitch in percent?",
            f"{value:g} % is a pitch; its angle is the arc tangent of {value / 100:g}",
        )
    if key == "latitude" and number:
        return (
            "degrees north, -90 to 90",
            "Latitude and longitude swapped?",
            "Write the latitude here",
        )
    return None


def show(value: Any) -> str:
    """Return a value for a message, short and on one line."""
    text = f"'{value}'" if isinstance(value, str) else str(value)
    text = " ".join(text.split())
    return text if len(text) <= 80 else text[:77] + "..."


def _needed(item: Any) -> str:
    context = item.get("ctx", {})
    kind = item["type"]
    words = {
        "float_type": "a number",
        "int_type": "a whole number",
        "string_type": "text",
        "bool_type": "true or false",
        "tuple_type": "a list",
        "model_type": "keys and values",
        "dict_type": "keys and values",
        "finite_number": "a finite number",
        "string_too_short": "some text",
        "too_short": f"at least {context.get('min_length', 1)} entry",
    }
    if kind in words:
        return words[kind]
    if kind == "literal_error":
        return "one of " + str(context.get("expected", "")).replace(" or ", ", ")
    if kind == "union_tag_invalid":
        return "one of " + str(context.get("expected_tags", ""))
    if kind == "union_tag_not_found":
        return f"a key {context.get('discriminator', '')} that says which kind it is"
    if kind == "value_error":
        return str(context.get("error", item["msg"]))
    bounds = {
        "greater_than": ("gt", "a number above {}"),
        "greater_than_equal": ("ge", "a number of at least {}"),
        "less_than": ("lt", "a number below {}"),
        "less_than_equal": ("le", "a number of at most {}"),
    }
    if kind in bounds:
        limit, form = bounds[kind]
        return form.format(f"{context[limit]:g}")
    return item["msg"][0].lower() + item["msg"][1:]


def _field_names(models: dict[str, type[BaseModel]]) -> list[str]:
    return sorted({name for model in models.values() for name in model.model_fields})


def _about(key: str, models: dict[str, type[BaseModel]]) -> str:
    for model in models.values():
        field = model.model_fields.get(key)
        if field is not None and field.description:
            return f"{key}: {' '.join(field.description.split())}"
    return ""
