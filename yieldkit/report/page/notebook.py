"""A parameterised notebook, run headless into one self-contained HTML page."""

from __future__ import annotations

import contextlib
import errno
import io
import json
import re
import shutil
import subprocess
import sys
import tempfile
import warnings
from collections.abc import Callable, Mapping
from itertools import count
from pathlib import Path
from typing import Any

import nbformat
import papermill
from jupyter_client.kernelspec import KernelSpec
from jupyter_client.manager import AsyncKernelManager

from yieldkit.base.errors import YieldkitError, refuse
from yieldkit.base.files import clear_leftovers, replace_with, safe_name, write_text
from yieldkit.base.private_folders import private_folder
from yieldkit.base.progress import Progress, silent
from yieldkit.base.shipped import shipped
from yieldkit.base.staging import Stage, new_run
from yieldkit.report.page.page import page_of
from yieldkit.report.page.parameters import checked_parameters, default_parameters

KERNEL = "python3"
_START_ATTEMPTS = 3
_CELL_TIMEOUT_S = 1800
_QUIET_KERNEL = "--IPKernelApp.log_level=50"  # its warnings about sockets tell a user nothing


_SYSTEMS_WORD = re.compile(r"^\[Errno (\d+)\] ([^:]*)")
_NO_ROOM = (errno.ENOSPC, errno.EFBIG, errno.EDQUOT)


class OwnPython(AsyncKernelManager):
    """Kernels of the Python that runs us, whatever kernels are installed on the machine."""

    @property
    def kernel_spec(self) -> KernelSpec:
        """Return how a kernel is started."""
        start = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
        return KernelSpec(argv=start, display_name="Python 3", language="python")

    async def _async_launch_kernel(self, kernel_cmd: list[str], **more: Any) -> None:
        """Start the kernel with nothing to write to but its notebook.

        One that is stopped while it starts would write a traceback to the person's terminal.
        """
        more["stderr"] = subprocess.DEVNULL
        await super()._async_launch_kernel(kernel_cmd, **more)


class ReportFailed(YieldkitError):
    """A notebook stopped at an error; the failed notebook is kept beside the reports."""


def run_report(
    notebook: str | Path,
    parameters: Mapping[str, Any],
    folder: str | Path,
    *,
    name: str | None = None,
    stage: Stage | None = None,
    progress: Progress | None = None,
) -> Path:
    """Run a notebook with parameters and write its page.

    Parameters
    ----------
    notebook : str or Path
        A path, or the name of a shipped notebook.
    parameters : mapping of str to object
        Its parameters; unknown, unused or ill-typed ones stop before the kernel starts. Those of
        files and folders (`folder`, `..._file`, `..._dir`) count from the current folder. A
        parameter `out_dir` of the notebook, if it has one, is set to the folder, and one called
        `run_id` to the run's id.
    folder : str or Path
        Where the page goes; made if needed.
    name : str, optional
        The page's name without ending; the notebook's if left out.
    stage : Stage, optional
        Where the page is made together with other files of its run; `Stage.put` then puts it in
        place. Without one the page is put in place by itself.
    progress : callable, optional
        Called with "report", how many of the notebook's cells are done and how many there are.

    Returns
    -------
    Path
        The HTML page. An older page of that name stays as it was unless this one is whole.

    Raises
    ------
    InputError
        If the notebook isn't there, or its parameters don't fit.
    ReportFailed
        If a cell failed; the notebook with the error is kept.
    MemoryError, OSError
        If the notebook ran out of memory or room on the disk.
    """
    path = Path(notebook) if Path(notebook).is_file() else shipped("notebooks", str(notebook))
    out = Path(folder).resolve()
    content = _read(path)
    given = dict(parameters)
    run = new_run() if stage is None else stage.run
    known = default_parameters(content, path.name)
    for key, value in (("out_dir", str(out)), ("run_id", run)):
        if key in known:
            given.setdefault(key, value)
    checked = checked_parameters(content, given, path.name)
    plain = {key: _from_here(key, value) for key, value in checked.items()}
    made = out if stage is None else stage.folder
    made.mkdir(parents=True, exist_ok=True)
    clear_leftovers(made)
    stem = safe_name(name or path.stem)
    failed = f"{stem}-failed.ipynb"
    with private_folder(tempfile.gettempdir(), "yieldkit-") as work:
        hook = _after_each(content, progress or silent)
        done = _execute(path, work, plain, made / failed, out / failed, hook)
        html = page_of(done, _title(content, stem), run)
    write_text(made / f"{stem}.html", html)
    (out / failed).unlink(missing_ok=True)
    return out / f"{stem}.html"


def _from_here(name: str, value: Any) -> Any:
    """Return a parameter; a path that counts from the current folder as a whole one.

    The notebook runs in a folder of its own, from which it would name nothing.
    """
    if name != "folder" and not name.endswith(("_file", "_dir")):
        return value
    return str(Path(value).resolve()) if isinstance(value, str) and value else value


def _read(path: Path) -> nbformat.NotebookNode:
    """Read a notebook; whatever isn't one is refused."""
    try:
        text = path.read_text(encoding="utf-8")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            notebook: nbformat.NotebookNode = nbformat.reads(text, as_version=4)
            return notebook
    except (
        UnicodeDecodeError,
        json.JSONDecodeError,
        nbformat.reader.NotJSONError,
        nbformat.ValidationError,
        AttributeError,
        KeyError,
    ):
        refuse(str(path), "a file that holds no notebook", "a Jupyter notebook of format 4")


def _title(content: nbformat.NotebookNode, stem: str) -> str:
    return str(content.metadata.get("title") or stem.replace("_", " ").capitalize())


def _after_each(content: nbformat.NotebookNode, tell: Progress) -> Callable[..., None]:
    """Return what is called after each code cell; the one with our parameters is one more."""
    every = 1 + sum(cell.cell_type == "code" for cell in content.cells)
    done = count(1)
    tell("report", 0, every)

    def after(**_: object) -> None:
        tell("report", min(next(done), every), every)

    return after


def _execute(
    path: Path,
    work: Path,
    parameters: dict[str, Any],
    failed: Path,
    told: Path,
    hook: Callable[..., None],
) -> nbformat.NotebookNode:
    """Run the notebook in a temporary folder; a kernel that doesn't start is tried again.

    A failed notebook is kept as `failed`; a person is told that it is `told`.
    """
    output = work / "done.ipynb"
    for _ in range(_START_ATTEMPTS):
        try:
            _papermill(path, output, parameters, hook)
        except papermill.PapermillExecutionError as error:
            _short_of_room(error)
            _keep(output, failed)
            raise ReportFailed(
                f"The report stopped at an error ({error.ename}: {error.evalue}). "
                f"The notebook with the error is {told}."
            ) from error
        except RuntimeError as error:
            reason = str(error)
            if _began(output):
                _keep(output, failed)
                raise ReportFailed(
                    f"The notebook's kernel died on the way ({reason}); the system ends processes "
                    f"when memory is short. What it had done is in {told}."
                ) from error
        else:
            executed: nbformat.NotebookNode = nbformat.read(output, as_version=4)
            return executed
    raise ReportFailed(f"The notebook's kernel did not start in {_START_ATTEMPTS} tries: {reason}")


def _short_of_room(error: papermill.PapermillExecutionError) -> None:
    """Raise what a notebook ran short of as if it had happened here: memory or disk."""
    if str(error.ename).endswith("MemoryError"):
        raise MemoryError(str(error.evalue)) from error
    word = _SYSTEMS_WORD.match(str(error.evalue))
    if error.ename == "OSError" and word and int(word[1]) in _NO_ROOM:
        raise OSError(int(word[1]), word[2]) from error


def _papermill(
    path: Path, output: Path, parameters: dict[str, Any], hook: Callable[..., None]
) -> None:
    with contextlib.redirect_stderr(io.StringIO()), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        papermill.execute_notebook(
            str(path),
            str(output),
            parameters=parameters,
            kernel_name=KERNEL,
            kernel_manager_class=OwnPython,
            language="python",
            progress_bar=False,
            log_output=False,
            execution_timeout=_CELL_TIMEOUT_S,
            on_cell_complete=hook,
            extra_arguments=[_QUIET_KERNEL],
            cwd=str(output.parent),
        )


def _began(output: Path) -> bool:
    """Return whether any cell was begun; a kernel that never started leaves all pending."""
    if not output.is_file():
        return False
    states = [
        cell.metadata.get("papermill", {}).get("status", "pending")
        for cell in nbformat.read(output, as_version=4).cells
        if cell.cell_type == "code"
    ]
    return any(state != "pending" for state in states)


def _keep(output: Path, failed: Path) -> None:
    """Keep a failed notebook beside the reports."""

    def copy(part: Path) -> None:
        shutil.copyfile(output, part)

    replace_with(failed, copy)
