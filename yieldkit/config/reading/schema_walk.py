"""The models behind a location in a site file: their fields, words and meanings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from yieldkit.config.reading.content import Location
from yieldkit.config.reading.meanings import meanings


@dataclass(frozen=True)
class Schema:
    """A model and all models inside it, found by their location in a file.

    Parameters
    ----------
    root : type of BaseModel
        The model of the whole file.
    shown_by : str
        The command that shows every key.
    """

    root: type[BaseModel]
    shown_by: str = "yieldkit schema"

    def owner(self, location: Location) -> type[BaseModel] | None:
        """Return the model that a location's last part is a field of."""
        kind: Any = self.root
        for part in location[:-1]:
            kind = _inside(kind, part)
        kind = _bare(kind)
        return kind if isinstance(kind, type) and issubclass(kind, BaseModel) else None

    def field_at(self, location: Location) -> FieldInfo | None:
        """Return the field a location names, or the one whose list it is an entry of."""
        while location and isinstance(location[-1], int):
            location = location[:-1]
        model = self.owner(location)
        return None if model is None or not location else model.model_fields.get(str(location[-1]))

    def meaning(self, location: Location) -> str:
        """Return what a field means, or nothing if the location is no field."""
        while location and isinstance(location[-1], int):
            location = location[:-1]
        model = self.owner(location)
        if model is None or not location:
            return ""
        return " ".join(meanings(model).get(str(location[-1]), "").split())

    def allowed_at(self, location: Location) -> tuple[Any, ...]:
        """Return the allowed words of a field of choices."""
        field = self.field_at(location)
        if field is None:
            return ()
        return tuple(
            word
            for kind in (field.annotation, *get_args(field.annotation))
            if get_origin(kind) is Literal
            for word in get_args(kind)
        )

    def tags_at(self, location: Location, key: str) -> tuple[str, ...]:
        """Return the words of `key` that tell the kinds of a part apart."""
        kind: Any = self.root
        for part in location:
            kind = _inside(kind, part)
        return tuple(
            word
            for model in _members(kind)
            for word in get_args(model.model_fields[key].annotation)
        )

    def kinds_with(self, location: Location) -> tuple[str, ...]:
        """Return which other kinds of a part know a key, such as `shape: box`.

        Parameters
        ----------
        location : tuple
            Where the key stands; before it the word of the part's own kind.
        """
        kind: Any = self.root
        for part in location[:-2]:
            kind = _inside(kind, part)
        kind = _bare(kind)
        if get_origin(kind) not in (Union, UnionType):
            return ()
        return tuple(
            f"{name}: {word}"
            for model in _members(kind)
            if str(location[-1]) in model.model_fields
            for name, field in model.model_fields.items()
            if get_origin(field.annotation) is Literal and field.is_required()
            for word in get_args(field.annotation)[:1]
        )

    def places_of(self) -> dict[str, tuple[str, ...]]:
        """Return for every key the keys under which it may stand, outermost first."""
        return _places_of(self.root)

    def for_editors(self) -> dict[str, Any]:
        """Return the JSON schema, with what every field means."""
        found = self.root.model_json_schema()
        described = {model.__name__: meanings(model) for model in self.models()}
        for name, part in {self.root.__name__: found, **found["$defs"]}.items():
            fields = part.get("properties", {})
            for key in fields.keys() & described[name].keys():
                fields[key] = dict(
                    sorted({"description": described[name][key], **fields[key]}.items())
                )
        return found

    def models(self) -> tuple[type[BaseModel], ...]:
        """Return every model of the schema."""
        return tuple(dict.fromkeys(model for _, model in _models(self.root, ())))


@cache
def _places_of(root: type[BaseModel]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for path, model in _models(root, ()):
        for name in model.model_fields:
            under = found.setdefault(name, [])
            if ".".join(path) not in under:
                under.append(".".join(path))
    return {
        name: tuple(sorted(paths, key=lambda path: path.count(".")))
        for name, paths in found.items()
    }


def _models(model: type[BaseModel], path: tuple[str, ...]) -> Iterator[tuple[Any, type[BaseModel]]]:
    yield path, model
    for name, field in model.model_fields.items():
        for inner in _members(field.annotation):
            yield from _models(inner, (*path, name))


def _members(kind: Any) -> Iterator[type[BaseModel]]:
    kind = _bare(kind)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        yield kind
    for inner in get_args(kind):
        yield from _members(inner)


def _bare(kind: Any) -> Any:
    """Return a type without its annotations and without "or nothing"."""
    while get_origin(kind) is Annotated:
        kind = get_args(kind)[0]
    if get_origin(kind) in (Union, UnionType):
        rest = [each for each in get_args(kind) if each is not NoneType]
        if len(rest) == 1:
            return _bare(rest[0])
    return kind


def _inside(kind: Any, part: str | int) -> Any:
    kind = _bare(kind)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        field = kind.model_fields.get(str(part))
        return None if field is None else field.annotation
    if get_origin(kind) is tuple:
        return get_args(kind)[0]
    if get_origin(kind) in (Union, UnionType):
        return next((each for each in _members(kind) if _goes_by(each, part)), None)
    return None


def _goes_by(model: type[BaseModel], tag: str | int) -> bool:
    return any(
        get_origin(field.annotation) is Literal and tag in get_args(field.annotation)
        for field in model.model_fields.values()
    )
