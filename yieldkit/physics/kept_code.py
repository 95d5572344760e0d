"""Where compiled functions are kept, under names that never lead to stale code.

numba notices an edit of the cached function's own file only. A helper that changed in another
file would still be used in its old form, so what is compiled from a room is kept in a folder whose
name contains a hash of the room, of every room it imports, of those that they import and so on,
of numba's version and the processor. Nothing else decides: an edit elsewhere compiles nothing, and
two installations of the same sources, wherever they lie, share what one of them has compiled.
"""

from __future__ import annotations

import hashlib
import logging
import os
import platform
import re
import tempfile
from collections.abc import Callable
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numba
from numba.core import caching, config
from numba.core.runtime.nrt import rtsys

from yieldkit.physics.inside_code import InsideCodeOnDisk

_LOG = logging.getLogger("yieldkit")
_SOURCES = Path(__file__).parents[2]
_IMPORTS = re.compile(r"^(?:from|import) +([\w.]+)(?: +import +(\([^)]*\)|[^\n]*))?", re.MULTILINE)

numba_config: Any = config
"""Its settings stand nowhere in its source: the library reads them from the environment."""


def cache_key(room: str, source: Path | None = None) -> str:
    """Return what names all that decides on the compiled form of a room's functions.

    Parameters
    ----------
    room : str
        Full name of the room, such as "yieldkit.physics.circuit.lanes".
    source : path, optional
        Its file, where it lies outside of the package.
    """
    digest = hashlib.sha256(_machine().encode())
    for name, text in sorted(_with_imports(room, source).items()):
        digest.update(name.encode())
        digest.update(text)
    return digest.hexdigest()[:24]


@cache
def _machine() -> str:
    """Return numba's version and the processor that it compiles for."""
    return f"{numba.__version__} {platform.machine()} {numba_config.CPU_NAME or _processor()}"


def _processor() -> str:
    info = Path("/proc/cpuinfo")
    if not info.is_file():
        return platform.processor()
    lines = info.read_text(errors="replace").splitlines()
    return next((line for line in lines if line.startswith("model name")), platform.processor())


def _with_imports(room: str, source: Path | None) -> dict[str, bytes]:
    """Return the sources of a room and of all rooms that it needs, by name."""
    found: dict[str, bytes] = {}
    wanted = [room]
    if source is not None and _file_of(room) is None:
        found[room] = source.read_bytes()
        wanted = list(_imported(found[room]))
    while wanted:
        name = wanted.pop()
        path = _file_of(name)
        if name not in found and path is not None:
            found[name], imports = _read(path)
            wanted.extend(imports)
    return found


@cache
def _read(path: Path) -> tuple[bytes, tuple[str, ...]]:
    """Return a room's source and the names that it imports."""
    text = path.read_bytes()
    return text, _imported(text)


def _imported(text: bytes) -> tuple[str, ...]:
    """Return the names of everything that may be a room and that a source imports."""
    names: list[str] = []
    for place, what in _IMPORTS.findall(text.decode(errors="replace")):
        if place.split(".")[0] == __name__.split(".")[0]:
            names.append(place)
            names.extend(f"{place}.{each}" for each in re.findall(r"\w+", what))
    return tuple(names)


@cache
def _file_of(name: str) -> Path | None:
    """Return the file of a room by its full name; None for anything else."""
    place = _SOURCES.joinpath(*name.split("."))
    files = (place.with_suffix(".py"), place / "__init__.py")
    return next((path for path in files if path.is_file()), None)


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _cache_folder() -> Path | None:
    """Return a writable folder, or None where nothing can be written."""
    chosen = os.environ.get("YIELDKIT_CACHE")
    bases = [Path(chosen)] if chosen else []
    bases.append(Path(os.environ.get("XDG_CACHE_HOME") or "~/.cache").expanduser() / "yieldkit")
    for base in bases:
        if _writable(base):
            return base
    _LOG.debug("no writable cache folder: compiled functions are kept in memory only")
    return None


_FOLDER = _cache_folder()


class SourcesCacheLocator(caching.UserProvidedCacheLocator):
    """Where numba keeps a compiled function: in the folder of its room, whatever the file's path.

    numba's own locators put the path of the source file into the name of the folder, so that
    every copy of the package would compile everything anew.
    """

    def __init__(self, py_func: Callable[..., Any], py_file: str) -> None:
        super().__init__(py_func, py_file)
        room = py_func.__module__
        self._key = _key_of(room, py_file)
        self._cache_path = str(_FOLDER and _FOLDER / f"{room}-{self._key}")
        self._name = str(py_func.__code__.co_firstlineno)

    def ensure_cache_path(self) -> None:
        """Make the folder, once a room; that its base can be written to is known."""
        _make_folder(self._cache_path)

    def get_source_stamp(self) -> str:
        """Return what stands for the sources: the hash made from all that matter."""
        return self._key

    def get_disambiguator(self) -> str:
        """Return the line, which tells functions of one name apart."""
        return self._name


class KeptFunctions(caching.FunctionCache):
    """What has been compiled of a function, loaded without what only a compilation needs.

    numba's own cache first registers all that numba can compile, a tenth of a second in every new
    process. Loaded code that owns arrays needs the runtime that counts them and nothing else, what
    borrows them not even that, and a compilation registers the rest itself before it begins.
    """

    def __init__(self, function: Callable[..., Any], mark: str, owning: bool) -> None:
        super().__init__(function)
        self._owning = owning
        self._cache_file = caching.IndexDataCacheFile(
            cache_path=self._cache_path,
            filename_base=f"{self._impl.filename_base}{mark}",
            source_stamp=self._impl.locator.get_source_stamp(),
        )

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """Return the compiled form for a signature, or None where there is none."""
        if self._owning:
            rtsys.initialize(target_context)
        with self._guard_against_spurious_io_errors():
            return self._load_overload(sig, target_context)


class KeptInside(KeptFunctions):
    """What is kept of a function that only other solvers call: the code that they take."""

    _impl_class: Any = InsideCodeOnDisk


class _KeptWhenCalled:
    """What has been compiled of a function, looked for on its first call: most are never called."""

    def __init__(self, function: Callable[..., Any], inside: bool, owning: bool) -> None:
        self._function = function
        self._inside = inside
        self._owning = owning

    @cached_property
    def _kept(self) -> KeptFunctions:
        before = numba_config.CACHE_DIR, numba_config.CACHE_LOCATOR_CLASSES
        numba_config.CACHE_DIR = str(_FOLDER)
        numba_config.CACHE_LOCATOR_CLASSES = f"{__name__}.{SourcesCacheLocator.__name__}"
        try:
            kind, mark = (KeptInside, ".inside") if self._inside else (KeptFunctions, "")
            return kind(self._function, mark, self._owning)
        finally:
            numba_config.CACHE_DIR, numba_config.CACHE_LOCATOR_CLASSES = before

    @property
    def cache_path(self) -> str:
        """The folder of the function's room."""
        return str(self._kept.cache_path)

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """Return the compiled form for a signature, or None where there is none."""
        return self._kept.load_overload(sig, target_context)

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep the compiled form for a signature."""
        self._kept.save_overload(sig, data)


def keep(dispatcher: Any, inside: bool = False) -> Any:
    """Let what is compiled of a function be kept on disk, where a folder can be written to.

    Parameters
    ----------
    dispatcher : Dispatcher
        The function, as numba compiles it on its first call.
    inside : bool
        Whether only other solvers call it.

    Returns
    -------
    Dispatcher
        The same.
    """
    if _FOLDER is not None:
        owning = bool(dispatcher.targetoptions["_nrt"])
        dispatcher._cache = _KeptWhenCalled(dispatcher.py_func, inside, owning)
    return dispatcher


@cache
def _make_folder(path: str) -> None:
    Path(path).mkdir(parents=True, exist_ok=True)


@cache
def _key_of(room: str, file: str) -> str:
    return cache_key(room, Path(file))
