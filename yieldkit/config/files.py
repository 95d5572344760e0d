"""Site files: YAML in, a frozen Site out, or every problem at once with its line."""

from __future__ import annotations

import inspect
import io
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from ruamel.yaml import YAML

from yieldkit.config import equipment
from yieldkit.config import site as site_models
from yieldkit.config.messages import problems_from
from yieldkit.config.plausibility import plausibility
from yieldkit.config.relations import relations
from yieldkit.config.site import Site
from yieldkit.config.yaml_reading import known_path, line_of, parse_yaml, plain, read_yaml
from yieldkit.words.errors import InputError, Problem
from yieldkit.words.shipped import shipped

DEMO = "demo.yaml"


def load_site(path: str | Path | None = None) -> Site:
    """Read a site file.

    Parameters
    ----------
    path : str or Path, optional
        The file; the shipped demonstration site if left out.

    Returns
    -------
    Site
        Frozen; a variant is a new Site.

    Raises
    ------
    InputError
        With every problem found in three passes: syntax, shapes, and relations between parts
        that are sound by themselves.
    """
    file = shipped("site_configs", DEMO) if path is None else Path(path)
    return _checked(read_yaml(file), file.name, str(file.resolve().parent))


def read_site_text(text: str, name: str = "site file", folder: str = "") -> Site:
    """Read a site from YAML text; see `load_site`."""
    return _checked(parse_yaml(text, name), name, folder)


def _checked(content: Any, name: str, folder: str) -> Site:
    mapping = plain(content)

    def place(location: tuple[str | int, ...]) -> str:
        line = line_of(content, location)
        spot = ".".join(str(part) for part in known_path(content, location))
        return f"{name} line {line}, {spot}" if line else f"{name}, {spot}"

    problems: list[Problem] = []
    site = None
    if "folder" in mapping:
        problems.append(
            Problem(place(("folder",)), "the unknown key 'folder'", "a key of the schema")
        )
        mapping = {key: value for key, value in mapping.items() if key != "folder"}
    try:
        site = Site.model_validate(mapping | {"folder": folder})
    except ValidationError as error:
        problems.extend(problems_from(error, content, place, _models()))
    problems.extend(relations(mapping, place))
    problems.extend(plausibility(mapping, place))
    if problems or site is None:
        raise InputError(_once(problems))
    return site


def _once(problems: list[Problem]) -> list[Problem]:
    return list(dict.fromkeys(problems))


def _models() -> dict[str, type[BaseModel]]:
    found = {}
    for module in (equipment, site_models):
        for name, member in inspect.getmembers(module, inspect.isclass):
            if issubclass(member, equipment.Frozen) and member is not equipment.Frozen:
                found[name] = member
    return found


def variant(site: Site, changes: dict[str, Any]) -> Site:
    """Return a site with some top-level parts replaced, checked as a whole.

    Parameters
    ----------
    site : Site
        The site to start from.
    changes : dict
        Top-level keys and their new content, as plain values or models.

    Raises
    ------
    InputError
        If the result is not a sound site.
    """
    content = site.model_dump(mode="python") | {
        key: _dumped(value) for key, value in changes.items()
    }
    return _checked(parse_yaml(_yaml_text(content), "variant"), "variant", site.folder)


def _dumped(value: Any) -> Any:
    if isinstance(value, BaseModel):
        return value.model_dump(mode="python")
    if isinstance(value, list | tuple):
        return [_dumped(each) for each in value]
    return value


def dump_site(site: Site) -> str:
    """Return a site as YAML text that `load_site` reads back."""
    return _yaml_text(site.model_dump(mode="python", exclude_defaults=True))


def _yaml_text(content: dict[str, Any]) -> str:
    yaml = YAML(typ="safe", pure=True)
    yaml.default_flow_style = False
    yaml.sort_base_mapping_type_on_output = False
    stream = io.StringIO()
    yaml.dump(_listed(content), stream)
    return stream.getvalue()


def _listed(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _listed(each) for key, each in value.items() if each is not None}
    if isinstance(value, list | tuple):
        return [_listed(each) for each in value]
    return value


def schema() -> dict[str, Any]:
    """Return the JSON schema of a site file, for editors."""
    found = Site.model_json_schema()
    found["properties"].pop("folder", None)
    found["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    found["title"] = "yieldkit site file"
    return found


def new_site_text() -> str:
    """Return a commented site file to start from; it is sound as it stands."""
    return shipped("site_configs", "starter.yaml").read_text(encoding="utf-8")
