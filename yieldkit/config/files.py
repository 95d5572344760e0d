"""Site files: YAML in, a frozen Site out, or every problem at once with its line."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from ruamel.yaml import YAML

from yieldkit.config.changes import changed
from yieldkit.config.content import Content, from_mapping
from yieldkit.config.messages import problems_from
from yieldkit.config.plausibility import plausibility
from yieldkit.config.relations import relations
from yieldkit.config.site import Site
from yieldkit.config.yaml_reading import parse_yaml, read_yaml
from yieldkit.words.errors import InputError, Problem
from yieldkit.words.shipped import shipped

DEMO = "demo.yaml"
_MOST_PROBLEMS = 100


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
    return _checked(read_yaml(file), str(file.resolve().parent))


def read_site_text(text: str, name: str = "site file", folder: str = "") -> Site:
    """Read a site from YAML text.

    Parameters
    ----------
    text : str
        The text of a site file.
    name : str
        What messages call it.
    folder : str
        Folder from which its relative paths count.

    Raises
    ------
    InputError
        As `load_site`.
    """
    return _checked(parse_yaml(text, name), folder)


def site_from_mapping(
    mapping: Mapping[str, Any], name: str = "site", folder: str | Path = ""
) -> Site:
    """Make a site from keys and values, checked like a file.

    Parameters
    ----------
    mapping : mapping
        Keys as in a site file; lists, tuples and models are taken alike.
    name : str
        What messages call it.
    folder : str or Path
        Folder from which its relative paths count.

    Raises
    ------
    InputError
        As `load_site`, without lines.
    """
    return _checked(from_mapping(mapping, name), str(folder))


def _checked(content: Content, folder: str) -> Site:
    problems: list[Problem] = []
    site = None
    values = dict(content.values)
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
        site = Site.model_validate(values | {"folder": folder})
    except ValidationError as error:
        problems.extend(problems_from(error, content))
    problems.extend(relations(content, folder))
    problems.extend(plausibility(content))
    if problems or site is None:
        raise InputError(_told(problems, content.name))
    return site


def _told(problems: list[Problem], name: str) -> list[Problem]:
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


def variant(site: Site, changes: Mapping[str, Any]) -> Site:
    """Return a site with some parts replaced, checked as a whole.

    Parameters
    ----------
    site : Site
        The site to start from; it stays as it is.
    changes : mapping
        Keys, or paths of keys such as "planes.0.tilt_deg" or "planes.west roof.tilt_deg" (an
        entry of a list by its number or its name), and their new content as plain values or
        models.

    Returns
    -------
    Site
        The changed site.

    Raises
    ------
    InputError
        If a path leads nowhere or the result is not a sound site.
    """
    return site_from_mapping(changed(site.model_dump(), changes), "variant", site.folder)


def dump_site(site: Site) -> str:
    """Return a site as YAML text that `load_site` reads back to an equal site.

    Parameters
    ----------
    site : Site
        The site; values that equal their default are left out.
    """
    yaml = YAML(typ="safe", pure=True)
    yaml.default_flow_style = False
    yaml.allow_unicode = True
    yaml.width = 10_000
    yaml.sort_base_mapping_type_on_output = False
    stream = io.StringIO()
    yaml.dump(_listed(site.model_dump(exclude_defaults=True)), stream)
    return stream.getvalue()


def _listed(value: Any) -> Any:
    if isinstance(value, Mapping):
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


def site_text(path: str | Path | None = None) -> str:
    """Return the text of a site file; the demonstration site's if none is given."""
    file = shipped("site_configs", DEMO) if path is None else Path(path)
    return file.read_text(encoding="utf-8")


def new_site_text() -> str:
    """Return a commented site file to start from; it is sound as it stands."""
    return shipped("site_configs", "starter.yaml").read_text(encoding="utf-8")
