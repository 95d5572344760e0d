"""A page on paper: printed to PDF through a browser, where one is found."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from yieldkit.base.errors import YieldkitError
from yieldkit.base.files import replace_with
from yieldkit.base.private_folders import private_folder

_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
_LIMIT_S = 60.0
_FLAGS = (
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
)


class NotPrinted(YieldkitError):
    """A page could not be printed."""


def browser() -> str | None:
    """Return the path of a browser that prints without a window, or None."""
    return next((path for name in _BROWSERS if (path := shutil.which(name))), None)


def print_pdf(page: str | Path, pdf: str | Path) -> Path:
    """Print a page to PDF.

    Parameters
    ----------
    page : str or Path
        The HTML file.
    pdf : str or Path
        Where the PDF goes; written whole or not at all.

    Returns
    -------
    Path
        The PDF.

    Raises
    ------
    NotPrinted
        If there is no browser, or it made no PDF within a minute.
    """
    program = browser()
    if program is None:
        raise NotPrinted(
            "No browser was found that prints without a window (Chromium); open the page and print "
            "it from there."
        )
    target = Path(pdf)
    replace_with(target, lambda part: _print(program, Path(page).resolve(), part.resolve()))
    return target


def _print(program: str, page: Path, part: Path) -> None:
    """Run the browser with a profile of its own; it is ended when it takes too long."""
    # A browser run by the system's administrator refuses its sandbox.
    as_root = ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
    with private_folder(tempfile.gettempdir(), "yieldkit-") as profile:
        command = (
            program,
            *_FLAGS,
            *as_root,
            f"--user-data-dir={profile}",
            f"--print-to-pdf={part}",
            page.as_uri(),
        )
        try:
            subprocess.run(command, capture_output=True, timeout=_LIMIT_S, check=False)
        except subprocess.TimeoutExpired as error:
            raise NotPrinted(f"{page} was not printed within {_LIMIT_S:.0f} seconds.") from error
    if not part.is_file() or not part.read_bytes().startswith(b"%PDF"):
        raise NotPrinted(f"{page} was not printed: the browser made no PDF.")
