"""What a model's complaint means in words a person can use."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError

from yieldkit.base.errors import Problem, nearest
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.likely_causes import likely
from yieldkit.config.reading.schema_walk import Schema
from yieldkit.config.reading.wording import one_of, shown

_MOST_ITEMS = 400
_WORDS = {
    "float_type": "a number",
    "int_type": "a whole number",
    "int_parsing_size": "a whole number of usual size",
    "string_type": "text",
    "bool_type": "true or false",
    "tuple_type": "a list",
    "model_type": "keys and values",
    "model_attributes_type": "keys and values",
    "dict_type": "keys and values",
    "finite_number": "a finite number",
    "string_too_short": "some text",
}
_RENAMED = {
    "module_quality_loss_percent": "It is called power_deviation_percent now, with the sign "
    "turned: for a loss of 1 % write power_deviation_percent: -1.",
}
"""Keys of earlier versions, and what to write in their place."""
_BOUNDS = {
    "greater_than": ("gt", "a number above {}"),
    "greater_than_equal": ("ge", "a number of at least {}"),
    "less_than": ("lt", "a number below {}"),
    "less_than_equal": ("le", "a number of at most {}"),
}


def problems_from(error: ValidationError, content: Content, schema: Schema) -> list[Problem]:
    """Turn a model's errors into problems with file, line, value, need and remedy.

    Parameters
    ----------
    error : ValidationError
        What the models found.
    content : Content
        The file's content, for lines.
    schema : Schema
        The models that found it.
    """
    found = error.errors(include_url=False)
    above = {item["loc"][:end] for item in found for end in range(len(item["loc"]))}
    # A list whose entries failed is called too short as well, which misleads.
    items = [item for item in found if item["type"] != "too_short" or item["loc"] not in above]
    return [_problem(item, content, schema) for item in items[:_MOST_ITEMS]]


def _problem(item: Any, content: Content, schema: Schema) -> Problem:
    location: Location = tuple(item["loc"])
    kind = item["type"]
    where = content.where(location)
    value = item.get("input")
    key = str(location[-1]) if location else ""
    if kind == "extra_forbidden":
        return _unknown_key(where, key, location, schema)
    if kind == "missing":
        return Problem(where, f"no {shown(key)}", "a value for it", remedy=_about(location, schema))
    if kind in ("union_tag_not_found", "union_tag_invalid"):
        return _kind(item, where, content, location, schema)
    needed = _needed(item, location, schema)
    allowed = schema.allowed_at(location)
    special = likely(location, value, kind, item.get("ctx", {}).get("le"), allowed)
    if special is not None:
        own, cause, remedy = special
        return Problem(where, shown(value), own or needed, cause, remedy)
    return Problem(where, shown(value), needed, remedy=_about(location, schema))


def _unknown_key(where: str, key: str, location: Location, schema: Schema) -> Problem:
    model, places = schema.owner(location), schema.places_of()
    known = [] if model is None else [name for name in model.model_fields if name != "folder"]
    close = nearest(key, known)
    elsewhere = [path or "the top level" for path in places.get(key, ())]
    far = nearest(key, [name for name in places if name != "folder"])
    part = next((n for n in known if key.endswith(f"_{n}") or n.startswith(f"{key}_")), None)
    kinds = schema.kinds_with(location)
    if key in _RENAMED:
        remedy = _RENAMED[key]
    elif ":" in key:
        remedy = "Put an ordinary blank after the colon."
    elif kinds:
        remedy = f"It belongs to {' or '.join(kinds)}."
    elif close or part:
        remedy = f"Did you mean '{close or part}'?"
    elif elsewhere:
        remedy = f"It belongs under {elsewhere[0]}."
    elif far:
        remedy = f"Did you mean '{far}', under {places[far][0] or 'the top level'}?"
    else:
        remedy = f"See `{schema.shown_by}`."
    return Problem(where, f"the unknown key {shown(key)}", "a key of the schema", remedy=remedy)


def _kind(item: Any, where: str, content: Content, location: Location, schema: Schema) -> Problem:
    key = str(item["ctx"]["discriminator"]).strip("'")
    allowed = schema.tags_at(location, key)
    if item["type"] == "union_tag_not_found":
        return Problem(where, f"no '{key}'", one_of(allowed))
    tag = str(item["ctx"]["tag"])
    close = nearest(tag, allowed)
    return Problem(
        content.where((*location, key)),
        shown(tag),
        one_of(allowed),
        remedy=f"Did you mean '{close}'?" if close else "",
    )


def _needed(item: Any, location: Location, schema: Schema) -> str:
    context = item.get("ctx", {})
    kind = item["type"]
    if kind in _WORDS:
        return _WORDS[kind]
    if kind == "literal_error":
        return one_of(schema.allowed_at(location))
    if kind == "value_error":
        return str(context.get("error", item["msg"]))
    if kind == "string_too_long":
        return f"no more than {context['max_length']} signs"
    if kind in ("too_short", "too_long"):
        count = context.get("min_length", context.get("max_length", 1))
        entries = "entry" if count == 1 else "entries"
        return f"{'at least' if kind == 'too_short' else 'at most'} {count} {entries}"
    if kind in _BOUNDS:
        limit, form = _BOUNDS[kind]
        return form.format(f"{context[limit]:g}")
    return str(item["msg"])[0].lower() + str(item["msg"])[1:]


def _about(location: Location, schema: Schema) -> str:
    said = schema.meaning(location)
    return f"{location[-1]}: {said}" if said and isinstance(location[-1], str) else said
