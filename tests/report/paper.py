"""A page printed to PDF by the browser that the tests use."""

import os
import subprocess
from pathlib import Path

from tests.oracles import require

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


def print_pdf(page, pdf):
    """Print an HTML file to PDF; a minute is enough for any of our pages."""
    # A browser run by the system's administrator refuses its sandbox.
    as_root = ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
    profile = f"--user-data-dir={Path(pdf).with_suffix('.profile')}"
    command = (require("chromium"), *_FLAGS, *as_root, profile, f"--print-to-pdf={pdf}")
    subprocess.run(
        [*command, Path(page).resolve().as_uri()],
        capture_output=True,
        timeout=_LIMIT_S,
        check=False,
    )
    assert Path(pdf).read_bytes().startswith(b"%PDF")
