"""Short names for strings and trackers, the same in every figure and table."""

from __future__ import annotations

from yieldkit.config.site.site import TrackerStrings, WiredString, Wiring


def string_label(string: WiredString) -> str:
    """Return a string's short name, such as '14 west roof + 7 dormer'."""
    return " + ".join(f"{group.modules} {group.plane}" for group in string.groups)


def wiring_text(wiring: Wiring) -> str:
    """Return a wiring in one line: inputs with their strings."""
    return "; ".join(
        f"{tracker.input_name}: "
        + " beside ".join(_string_text(tracker, place) for place in range(len(tracker.strings)))
        for tracker in wiring.trackers
    )


def _string_text(tracker: TrackerStrings, place: int) -> str:
    groups = tracker.strings[place].groups
    return " and ".join(f"{group.modules} {group.plane}" for group in groups)
