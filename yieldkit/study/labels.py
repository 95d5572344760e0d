"""Short names for strings and trackers, the same in every figure and table."""

from __future__ import annotations

from yieldkit.config.site import WiredString


def string_label(string: WiredString) -> str:
    """Return a string's short name, such as '14 west roof + 7 dormer'."""
    return " + ".join(f"{group.modules} {group.plane}" for group in string.groups)
