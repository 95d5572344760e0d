"""The one decorator for compiled functions, and the cache that never serves stale code.

numba notices an edit of the cached function's own file only. A helper that changed in another
file would still be used in its old form, so the cache folder's name contains a hash of every
physics source file, numba's version and the processor. Nothing else decides: two installations of
the same sources, wherever they lie, share what one of them has compiled.
"""

from __future__ import annotations

import hashlib
import logging
import os
import platform
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from numba.core import caching, config

_LOG = logging.getLogger("yieldkit")

numba_config: Any = config
"""Its settings stand nowhere in its source: the library reads them from the environment."""


def cache_key() -> str:
    """Return the name of the cache folder for the sources, the compiler and the processor."""
    digest = hashlib.sha256()
    wing = Path(__file__).parent
    for source in sorted(wing.rglob("*.py")):
        digest.update(source.relative_to(wing).as_posix().encode())
        digest.update(source.read_bytes())
    digest.update(numba.__version__.encode())
    digest.update(platform.machine().encode())
    digest.update(str(numba_config.CPU_NAME or _processor()).encode())
    return digest.hexdigest()[:24]


def _processor() -> str:
    info = Path("/proc/cpuinfo")
    if not info.is_file():
        return platform.processor()
    lines = info.read_text(errors="replace").splitlines()
    return next((line for line in lines if line.startswith("model name")), platform.processor())


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _cache_folder() -> Path | None:
    """Return a writable folder for this key, or None where nothing can be written."""
    chosen = os.environ.get("YIELDKIT_CACHE")
    bases = [Path(chosen)] if chosen else []
    bases.append(Path(os.environ.get("XDG_CACHE_HOME") or "~/.cache").expanduser() / "yieldkit")
    key = cache_key()
    for base in bases:
        if _writable(base / key):
            return base / key
    _LOG.debug("no writable cache folder: compiled functions are kept in memory only")
    return None


_FOLDER = _cache_folder()


class SourcesCacheLocator(caching.UserProvidedCacheLocator):
    """Where numba keeps a compiled function: in this version's folder, whatever the file's path.

    numba's own locators put the path of the source file into the name of the folder, so that
    every copy of the package would compile everything anew.
    """

    def __init__(self, py_func: Callable[..., Any], py_file: str) -> None:
        super().__init__(py_func, py_file)  # type: ignore[no-untyped-call]  # numba has no types
        self._cache_path = str(_FOLDER)
        self._name = f"{py_func.__module__}-{py_func.__code__.co_firstlineno}"

    def get_source_stamp(self) -> str:
        """Return what stands for the sources: the folder's name, made from all of them."""
        return Path(self._cache_path).name

    def get_disambiguator(self) -> str:
        """Return the module and line, which tell functions of one name apart."""
        return self._name


def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a function on its first call, without the GIL, and keep the result on disk.

    Parameters
    ----------
    function : callable
        A function of scalars and numpy arrays that numba can compile.

    Returns
    -------
    callable
        The same function; nothing is compiled before it is called.
    """
    if _FOLDER is None:
        return numba.njit(nogil=True, error_model="numpy")(function)
    before = numba_config.CACHE_DIR, numba_config.CACHE_LOCATOR_CLASSES
    numba_config.CACHE_DIR = str(_FOLDER)
    numba_config.CACHE_LOCATOR_CLASSES = f"{__name__}.{SourcesCacheLocator.__name__}"
    try:
        return numba.njit(nogil=True, cache=True, error_model="numpy")(function)
    finally:
        numba_config.CACHE_DIR, numba_config.CACHE_LOCATOR_CLASSES = before
