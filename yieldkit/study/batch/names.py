"""The name of a run: a hash of everything that its result depends on."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from yieldkit.base.errors import refuse
from yieldkit.config.models.weather_source import WeatherSource
from yieldkit.config.reading.content import Location
from yieldkit.config.reading.parts import part
from yieldkit.config.reading.paths import replaced
from yieldkit.config.site.written_back import NAMED_FILES
from yieldkit.study.simulation.provenance import versions
from yieldkit.study.simulation.weather import weather_files

_PACKAGE = Path(__file__).parents[2]
_COMPUTING = ("base", "config", "design", "physics", "study", "weather")
"""Wings whose sources decide on a result: the house's plan keeps the others from them."""
_READ = (".py", ".csv")
_NOT_COUNTED = ("wirings", "notes")
"""Parts of a site that aren't in its own hash: the run's wiring has one of its own."""
_DIGITS = 32


@cache
def sources() -> str:
    """Return a hash of the package's sources and tables that results depend on."""
    digest = hashlib.sha256()
    for wing in _COMPUTING:
        for path in sorted((_PACKAGE / wing).rglob("*")):
            if path.suffix in _READ and path.is_file():
                digest.update(path.relative_to(_PACKAGE).as_posix().encode())
                digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def canonical(value: Any) -> Any:
    """Return a value in the one form that equal values have: 28.0 as 28."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, dict):
        return {key: canonical(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [canonical(each) for each in value]
    return value


def content_hash(content: Any) -> str:
    """Return a hash of plain content, the same for equal values."""
    text = json.dumps(canonical(content), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def site_hash(content: dict[str, Any]) -> str:
    """Return a hash of a site without its wirings, remarks, and the names of its files.

    Files count by their bytes, a wiring by itself.

    Parameters
    ----------
    content : dict
        The site's plain content.
    """
    kept = {key: value for key, value in content.items() if key not in _NOT_COUNTED}
    for place in NAMED_FILES:
        if part(kept, *place) is not None:
            kept = replaced(kept, place, None)
    return content_hash(kept)


def wiring_hash(wiring: Mapping[str, Any]) -> str:
    """Return a hash of a wiring without what it is called.

    Parameters
    ----------
    wiring : mapping
        Its plain content.
    """
    return content_hash({key: value for key, value in wiring.items() if key != "name"})


def together(hashes: Sequence[str]) -> str:
    """Return the hashes of a site's weather files as one text, in whatever order they are named."""
    return ", ".join(sorted(hashes))


def label_of(files: Sequence[Path]) -> Path:
    """Return a path that stands for several files: the first, and how many more there are."""
    if len(files) == 1:
        return files[0]
    return files[0].with_name(f"{files[0].stem} and {len(files) - 1} more")


class FileHashes:
    """Hashes of files' bytes, each file read once as long as this lives."""

    def __init__(self) -> None:
        self._known: dict[Path, str] = {}

    def of(self, file: Path) -> str:
        """Return the hash of a file's bytes."""
        if file not in self._known:
            try:
                self._known[file] = hashlib.sha256(file.read_bytes()).hexdigest()
            except OSError as error:
                refuse(str(file), f"a file that can't be read ({error.strerror})", "a file to hash")
        return self._known[file]


def files_named(
    place: Location, said: Any, folder: str, weather: WeatherSource
) -> tuple[Path, ...]:
    """Return the files that a value of a site file leads to; several of weather alone.

    Parameters
    ----------
    place : tuple
        Where the value stands.
    said : str or tuple of str
        The value.
    folder : str
        Folder from which the site's paths count.
    weather : WeatherSource
        The site's weather block.

    Raises
    ------
    InputError
        If there is no such weather file or data set.
    """
    if place == ("weather", "file"):
        named = said if isinstance(said, str) else tuple(said)
        return weather_files(weather.model_copy(update={"file": named}), folder)
    beside = Path(folder) / str(said)
    return (beside if beside.is_file() else Path(str(said)),)


def name_of(ingredients: Mapping[str, str], fragments: list[str]) -> str:
    """Return the name of a run.

    Parameters
    ----------
    ingredients : mapping
        Hashes of what it is made of, by what each is of.
    fragments : list of str
        Its changes as text, in a fixed order.

    Returns
    -------
    str
        32 hexadecimal digits.
    """
    digest = hashlib.sha256()
    for what, said in ingredients.items():
        digest.update(f"{what}={said}\n".encode())
    digest.update("\n".join(fragments).encode())
    return digest.hexdigest()[:_DIGITS]


def ingredients_of(site: str, wiring: str) -> dict[str, str]:
    """Return what runs of a site and wiring are made of, beside changes and files.

    Parameters
    ----------
    site, wiring : str
        Their hashes.
    """
    return {"site": site, "wiring": wiring, "sources": sources(), "versions": versions()}
