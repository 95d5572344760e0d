"""A run's files, made aside and then put in place together under one run id.

Nobody can rename several files at once. So the folder says that it is unfinished while they are
put in place: whoever is killed there leaves that sign behind. Before it everything is as the last
run left it, after it everything is the new run's, and what only the last run had is gone. The sign
lists the files of all runs that were stopped there, so that the next one that ends leaves its own.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from yieldkit.base.errors import refuse
from yieldkit.base.files import (
    PART,
    RECORD,
    clear_leftovers,
    flush_folder,
    hashes_in,
    record_all,
)
from yieldkit.base.private_folders import locked, private_folder

_PRIVATE = f"{PART}run-"
_COPIES = "copies"


def new_run() -> str:
    """Return the id of a new run: when it began in UTC, and a random part."""
    return f"{datetime.now(UTC):%Y%m%dT%H%M%SZ}-{uuid.uuid4().hex[:8]}"


@dataclass(frozen=True)
class Stage:
    """Where a run makes its files, and where they go.

    Parameters
    ----------
    what : str
        The kind of run, such as "compare"; one folder holds one run of each kind.
    run : str
        The run's id, which every file of it bears.
    target : Path
        Where the files go.
    folder : Path
        Where they are made.
    pages : tuple of str
        Names of the reports of this kind; one of an earlier run never stays.
    """

    what: str
    run: str
    target: Path
    folder: Path
    pages: tuple[str, ...] = ()

    @property
    def manifest(self) -> str:
        """Name of the file that lists what belongs to the run."""
        return f"{self.what}-manifest.json"

    @property
    def sign(self) -> str:
        """Name of the file by which the folder says that it is unfinished."""
        return f"UNFINISHED-{self.what}.txt"

    def put(self) -> tuple[Path, ...]:
        """Put all files made so far in place, and take away what only an earlier run had.

        Returns
        -------
        tuple of Path
            The files, in the order of their names, and the manifest last.

        Raises
        ------
        OSError
            If the disk refuses. Before the first file is in place all stays as it was; after
            it the folder says that it is unfinished.
        """
        made = sorted(
            path.name
            for path in self.folder.iterdir()
            if path.is_file() and path.name not in (RECORD, self.manifest)
        )
        parts: dict[str, Path] = {}
        hashes: dict[str, str] = {}
        try:
            for name in made:
                hashes[name], parts[name] = self._copied(self.folder / name)
            content = {"run": self.run, "of": f"yieldkit {self.what}", "files": hashes}
            listed = self.folder / self.manifest
            listed.write_text(json.dumps(content, indent=2) + "\n", encoding="utf-8")
            digest, parts[self.manifest] = self._copied(listed)
            with locked(self.target):
                self._swap(parts, {**hashes, self.manifest: digest})
        finally:
            for part in parts.values():
                with contextlib.suppress(OSError):
                    part.unlink(missing_ok=True)
        return tuple(self.target / name for name in parts)

    def _copied(self, source: Path) -> tuple[str, Path]:
        """Copy a file where it can be renamed into place from; return its hash and the copy."""
        part = self.folder / _COPIES / source.name
        part.parent.mkdir(exist_ok=True)
        try:
            shutil.copyfile(source, part)
            with part.open("rb+") as stream:
                digest = hashlib.file_digest(stream, "sha256").hexdigest()
                os.fsync(stream.fileno())
        except BaseException:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            raise
        return digest, part

    def _swap(self, parts: Mapping[str, Path], hashes: Mapping[str, str]) -> None:
        """Rename everything into place, under the sign that the folder is unfinished."""
        sign = self.target / self.sign
        earlier = self._earlier()
        gone = [page for page in self.pages if page not in parts]
        gone += [name for name in earlier if name not in parts and name not in gone]
        listed = {name: earlier.get(name, set()) for name in (*earlier, *hashes)}
        listed |= {name: listed[name] | {digest} for name, digest in hashes.items()}
        was_unfinished = sign.exists()
        record_all(self.target, hashes)
        try:
            self._sign(listed)
            flush_folder(self.target)
        except BaseException:
            if not was_unfinished:
                with contextlib.suppress(OSError):
                    sign.unlink(missing_ok=True)
            raise
        for name, part in parts.items():
            part.replace(self.target / name)
        for name in gone:
            (self.target / name).unlink(missing_ok=True)
        flush_folder(self.target)
        sign.unlink()
        flush_folder(self.target)

    def _sign(self, files: Mapping[str, set[str]]) -> None:
        """Put up the sign that the folder is unfinished, whole or not at all.

        It lists every file that may be a run's while it stands: no manifest lists those that
        are in place before their own, nor those that are still there when it came.
        """
        lines = [f"{digest}  {name}" for name, known in files.items() for digest in sorted(known)]
        text = (
            f"Run {self.run} of yieldkit {self.what} was stopped while its files were put in "
            "place: files of several runs may lie side by side here. Run it again: it takes away "
            "those of the following that are as a run wrote them.\n\n" + "\n".join(lines) + "\n"
        )
        part = self.folder / _COPIES / self.sign
        part.parent.mkdir(exist_ok=True)
        try:
            with part.open("wb") as stream:
                stream.write(os.fsencode(text))
                os.fsync(stream.fileno())
            part.replace(self.target / self.sign)
        finally:
            part.unlink(missing_ok=True)

    def _earlier(self) -> dict[str, set[str]]:
        """Return the files of earlier runs that lie there, with the hashes they were written with.

        They are those that the manifest lists and those that the sign of a stopped run lists. A
        file that was changed since it was listed is somebody's own and isn't among them.
        """
        listed = hashes_in(self.target / self.sign)
        for name, digest in listed_files(self.target / self.manifest).items():
            listed.setdefault(name, set()).add(digest)
        found = {}
        for name, known in listed.items():
            path = self.target / name
            if Path(name).name != name or not path.is_file():
                continue
            with path.open("rb") as stream:
                if hashlib.file_digest(stream, "sha256").hexdigest() in known:
                    found[name] = known
        return found


def listed_files(manifest: Path) -> dict[str, str]:
    """Return name and hash of the files a manifest lists; none if it can't be read."""
    try:
        content = json.loads(manifest.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    files = content.get("files") if isinstance(content, dict) else None
    if not isinstance(files, dict):
        return {}
    return {name: digest for name, digest in files.items() if isinstance(digest, str)}


@contextlib.contextmanager
def staged(
    target: str | Path, what: str, pages: tuple[str, ...] = (), run: str | None = None
) -> Iterator[Stage]:
    """Give a stage in a folder; nothing is in place before `Stage.put`.

    Parameters
    ----------
    target : str or Path
        Where the files shall go; made if needed, and taken away again if nothing came of it.
    what : str
        The kind of run.
    pages : tuple of str
        Names of the reports of this kind.
    run : str, optional
        The run's id; a new one if left out.

    Raises
    ------
    InputError
        If there can be no such folder, or nothing can be written there.
    """
    folder = Path(target)
    made = [each for each in (folder, *folder.parents) if not each.exists()]
    with contextlib.ExitStack() as stack:
        stack.callback(_unmade, made)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            clear_leftovers(folder)
            private = stack.enter_context(private_folder(folder, _PRIVATE))
        except OSError as error:
            _refused(folder, error)
        yield Stage(what, run or new_run(), folder, private, pages)


def refuse_unwritable(folder: str | Path) -> None:
    """Raise an `InputError` if nothing can be written into a folder; leave no trace of trying."""
    with staged(folder, "trial"):
        pass


def _unmade(made: list[Path]) -> None:
    """Take away the folders that were made, as far as they are empty."""
    for each in made:
        with contextlib.suppress(OSError):
            each.rmdir()


def _refused(folder: Path, error: OSError) -> None:
    """Say why a folder can't take results."""
    if isinstance(error, FileExistsError | NotADirectoryError):
        refuse(
            str(folder),
            "a file, or a path through one",
            "a folder to write into",
            remedy="Name another folder.",
        )
    refuse(
        str(folder),
        f"a folder that can't be written to ({error.strerror or error})",
        "a folder to write into",
        remedy="Name another folder.",
    )
