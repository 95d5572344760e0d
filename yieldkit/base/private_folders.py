"""Folders that belong to one living process, and the sweeping of those whose process was killed.

Such a folder is locked for as long as its process lives; the system lets go of the lock however
the process ends. So what a killed run left is told from what a living one still needs.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import re
import shutil
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

try:
    import fcntl
except ImportError:  # a system without this kind of lock
    fcntl = None  # type: ignore[assignment]  # its users look whether it is there

_NAMED = re.compile(r"^(\d{1,10})-[0-9a-f]{12}$")
_OLD_S = 24 * 3600.0
_given: dict[Path, int] = {}
"""Folders made, or about to be, and the process that did: one forked from it must let them be."""


@contextlib.contextmanager
def private_folder(parent: str | Path, prefix: str) -> Iterator[Path]:
    """Give a new folder of this process; it is removed in the end.

    Folders of the same prefix that killed processes left beside it are removed first.

    Parameters
    ----------
    parent : str or Path
        Where it shall be; must be there.
    prefix : str
        How its name begins.

    Raises
    ------
    OSError
        If no folder can be made there.
    """
    sweep_private(parent, prefix)
    path = Path(parent) / f"{prefix}{os.getpid()}-{uuid.uuid4().hex[:12]}"
    _given[path] = os.getpid()
    try:
        path.mkdir(mode=0o700)
        with locked(path):
            yield path
    finally:
        shutil.rmtree(path, ignore_errors=True)
        _given.pop(path, None)


@atexit.register
def remove_given() -> None:
    """Remove the private folders of this process that an interrupt of their removal left."""
    for path, process in tuple(_given.items()):
        if process == os.getpid():
            shutil.rmtree(path, ignore_errors=True)
            _given.pop(path, None)


@contextlib.contextmanager
def locked(folder: str | Path) -> Iterator[None]:
    """Hold a folder for this process alone; wait while another one holds it.

    Where the system knows no such lock, or the disk takes none, nothing is held.
    """
    handle = _opened(folder)
    try:
        if handle is not None:
            with contextlib.suppress(OSError):
                fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        if handle is not None:
            os.close(handle)


def sweep_private(parent: str | Path, prefix: str) -> int:
    """Remove the private folders of processes that are no more; return how many."""
    try:
        found = [path for path in Path(parent).iterdir() if path.name.startswith(prefix)]
    except OSError:
        return 0
    swept = 0
    for path in found:
        if path.is_symlink() or not path.is_dir() or not _abandoned(path, prefix):
            continue
        shutil.rmtree(path, ignore_errors=True)
        swept += not path.exists()
    return swept


def _abandoned(path: Path, prefix: str) -> bool:
    """Return whether nobody uses a private folder any more."""
    try:
        old = time.time() - path.stat().st_mtime > _OLD_S
    except OSError:
        return False
    named = _NAMED.match(path.name.removeprefix(prefix))
    # Between its making and its lock the folder is told by the number of a living process.
    if not old and (named is None or _living(int(named[1]))):
        return False
    handle = _opened(path)
    if handle is None:
        return old
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    finally:
        os.close(handle)
    return True


def _living(pid: int) -> bool:
    """Return whether a process of that number may be alive."""
    if fcntl is None:
        # On such systems asking would end it.
        return True
    try:
        os.kill(pid, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def _opened(folder: str | Path) -> int | None:
    if fcntl is None:
        return None
    try:
        return os.open(folder, os.O_RDONLY)
    except OSError:
        return None
