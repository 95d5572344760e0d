"""Whether a path leads to a file that can be read whole: not a folder, a pipe or a device."""

from __future__ import annotations

import stat
from pathlib import Path

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISSOCK, "a socket"),
)


def other_than_file(path: str | Path) -> str:
    """Return what a path leads to if that is no regular file, such as "a folder"; else nothing.

    Parameters
    ----------
    path : str or Path
        A path; one that leads nowhere is nothing here.
    """
    try:
        mode = Path(path).stat().st_mode
    except (OSError, ValueError):
        return ""
    return next((name for holds, name in _KINDS if holds(mode)), "")
