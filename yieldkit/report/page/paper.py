"""A page put onto paper: printed to PDF by a browser of this machine, which fetches nothing."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import tempfile
from pathlib import Path

from yieldkit.base.errors import YieldkitError
from yieldkit.base.files import write_bytes
from yieldkit.base.private_folders import private_folder

BROWSER = "YIELDKIT_BROWSER"
"""Environment variable that names the browser to print with."""
_NAMES = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "msedge",
)
_PLACES = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)
"""Browsers that print to PDF by themselves, on the path and where they usually are."""
_FLAGS = (
    "--headless",
    "--disable-gpu",
    "--disable-extensions",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--host-resolver-rules=MAP * ~NOTFOUND",
    "--no-pdf-header-footer",
)
_LIMIT_S = 90.0
_BY_HAND = "Open the page in a browser and print it on A4"


class NotPrinted(YieldkitError):
    """A page that could not be put onto paper; the page itself is whole."""


def browser() -> str | None:
    """Return the browser that prints: the one that is named, else the first that is there.

    Raises
    ------
    NotPrinted
        If the one that is named isn't there.
    """
    named = os.environ.get(BROWSER)
    if named:
        found = shutil.which(named)
        if found is None:
            raise NotPrinted(
                f"No PDF: {BROWSER} names '{named}', which is no program here. Correct it. "
                f"{_BY_HAND}."
            )
        return found
    there = (shutil.which(name) for name in (*_NAMES, *_PLACES))
    return next((each for each in there if each is not None), None)


def print_page(page: Path, pdf: Path) -> None:
    """Print an HTML file to PDF.

    Parameters
    ----------
    page : Path
        The file; what it would fetch from elsewhere stays away.
    pdf : Path
        Where the PDF goes; an older one stays unless the new one is whole.

    Raises
    ------
    NotPrinted
        If there is no browser, or it gave no whole PDF; the sentence says what to do.
    """
    program = browser()
    if program is None:
        raise NotPrinted(
            f"No PDF: none of the browsers that can print it is here ({', '.join(_NAMES)}). "
            f"{_BY_HAND}, or name one of these in {BROWSER}."
        )
    with private_folder(tempfile.gettempdir(), "yieldkit-") as work:
        made = work / "page.pdf"
        flags = (*_FLAGS, *_as_root(), f"--user-data-dir={work / 'profile'}")
        why = _run([program, *flags, f"--print-to-pdf={made}", page.resolve().as_uri()])
        data = made.read_bytes() if made.is_file() else b""
        if why or not (data.startswith(b"%PDF-") and data.rstrip().endswith(b"%%EOF")):
            raise NotPrinted(
                f"No PDF: '{program}' did not print the page ({why or 'it left no whole PDF'}). "
                f"{_BY_HAND}, or name another browser in {BROWSER}."
            )
        write_bytes(pdf, data)


def _as_root() -> tuple[str, ...]:
    """Return what a browser needs that the system's administrator runs, without its sandbox.

    Nothing of a page runs: its policy allows no script.
    """
    return ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()


def _run(command: list[str]) -> str:
    """Run a browser; return why it failed, nothing where it did not."""
    try:
        with subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        ) as process:
            try:
                code = process.wait(_LIMIT_S)
            except subprocess.TimeoutExpired:
                return f"nothing after {_LIMIT_S:.0f} s"
            finally:
                _end(process)
    except OSError as error:
        return error.strerror or str(error)
    return "" if code == 0 else f"it ended with {code}"


def _end(process: subprocess.Popen[bytes]) -> None:
    """End a browser that still runs, with all processes that it began."""
    if process.poll() is None:
        with contextlib.suppress(ProcessLookupError):
            if hasattr(os, "killpg"):
                os.killpg(process.pid, signal.SIGKILL)
            else:
                process.kill()
