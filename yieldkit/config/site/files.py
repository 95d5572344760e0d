"""Site files: YAML in, a frozen Site out, or every problem at once with its line."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from yieldkit.base.shipped import shipped
from yieldkit.config.reading.content import from_mapping
from yieldkit.config.reading.schema_walk import Schema
from yieldkit.config.reading.yaml import parse_yaml, read_yaml
from yieldkit.config.site.checking import checked
from yieldkit.config.site.site import Site

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
        Frozen; `Site.variant` makes a changed one.

    Raises
    ------
    InputError
        With every problem found in three passes: syntax, shapes, and relations between parts
        that are sound by themselves.
    """
    file = shipped("site_configs", DEMO) if path is None else Path(path)
    return checked(read_yaml(file), str(file.resolve().parent), Site)


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
    return checked(parse_yaml(text, name), folder, Site)


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
    return checked(from_mapping(mapping, name), str(folder), Site)


def schema() -> dict[str, Any]:
    """Return the JSON schema of a site file, for editors."""
    found = Schema(Site).for_editors()
    found["properties"].pop("folder", None)
    found["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    found["title"] = "yieldkit site file"
    found["allOf"] = [_with_version(1, "inverter"), _with_version(2, "inverter_types", "inverters")]
    return found


def _with_version(version: int, *keys: str) -> dict[str, Any]:
    """Return the rule which keys a version asks for."""
    said = {"properties": {"schema_version": {"const": version}}}
    return {"if": said, "then": {"required": list(keys)}}


def site_text(path: str | Path | None = None) -> str:
    """Return the text of a site file; the demonstration site's if none is given."""
    file = shipped("site_configs", DEMO) if path is None else Path(path)
    return file.read_text(encoding="utf-8-sig")


def two_inverters_text() -> str:
    """Return a site file of two inverters behind one meter; it is sound as it stands."""
    return shipped("site_configs", "two_inverters.yaml").read_text(encoding="utf-8")


def new_site_text() -> str:
    """Return a commented site file to start from; it is sound as it stands."""
    return shipped("site_configs", "starter.yaml").read_text(encoding="utf-8")
