"""Patterns of file names, such as years/*.csv, and the files that they match."""

from __future__ import annotations

from pathlib import Path

_WILD = "*?["


def is_pattern(text: str, folder: str | Path = "") -> bool:
    """Tell whether a name stands for several files: it has a pattern's signs and is no file itself.

    Parameters
    ----------
    text : str
        The name.
    folder : str or Path
        Folder from which it counts.
    """
    return any(sign in text for sign in _WILD) and not Path(folder, text).is_file()


def matching(text: str, folder: str | Path = "") -> list[Path]:
    """Return the files that a pattern matches, in the order of their names.

    Parameters
    ----------
    text : str
        The pattern.
    folder : str or Path
        Folder from which it counts.
    """
    anchor = Path(text).anchor
    root = Path(anchor) if anchor else Path(folder)
    found = root.glob(text.removeprefix(anchor))
    return sorted(path for path in found if path.is_file())
