"""Where the folders that come with the package lie, installed or in a checkout."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from yieldkit.base.errors import nearest, refuse

BUNDLED_WEATHER = {
    "greensboro-tmy3": "723170TYA.CSV",
    "sand-point-tmy3": "703165TY.csv",
    "miami-tmy2": "12839.tm2",
}
"""Short names of the public US weather files that pvlib carries."""


def shipped(kind: str, name: str) -> Path:
    """Return the path of a shipped file.

    Parameters
    ----------
    kind : str
        "weather", "notebooks" or "site_configs".
    name : str
        File name.

    Raises
    ------
    InputError
        If there is no such file; the nearest name is suggested.
    """
    folders = shipped_folders(kind)
    for folder in folders:
        if (folder / name).is_file():
            return folder / name
    names = sorted({path.name for folder in folders for path in folder.iterdir()})
    close = nearest(name, names)
    refuse(
        f"shipped {kind}",
        f"'{name}'",
        "one of " + ", ".join(names),
        remedy=f"Did you mean '{close}'?" if close else "",
    )


def shipped_folders(kind: str) -> list[Path]:
    """Return the folders of a kind that exist: the installed package's, then the checkout's."""
    package = Path(str(resources.files("yieldkit")))
    candidates = (package / "_data" / kind, package.parent / kind)
    return [folder for folder in candidates if folder.is_dir()]


def data_set_names(kind: str) -> tuple[str, ...]:
    """Return the names by which shipped data sets are asked for.

    Parameters
    ----------
    kind : str
        "weather", whose names include the bundled public files, or another shipped folder.
    """
    stems = {
        path.stem
        for folder in shipped_folders(kind)
        for path in folder.iterdir()
        if path.suffix == ".csv"
    }
    return tuple(sorted(stems | (set(BUNDLED_WEATHER) if kind == "weather" else set())))
