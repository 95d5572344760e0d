"""Replacing parts of a site's content by their path."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from yieldkit.config.reading.paths import located, replaced


def changed(content: dict[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """Return content with parts replaced; the given content stays as it is.

    Parameters
    ----------
    content : dict
        Plain content of a site.
    changes : mapping
        Keys or paths of keys, and the new values.

    Raises
    ------
    InputError
        If a path leads nowhere.
    """
    for path, value in changes.items():
        content = replaced(content, located(content, path), value)
    return content
