"""Outside programs and files that some tests compare with.

Without them such a test is skipped and says why; with YIELDKIT_REQUIRE_ORACLES=1 it fails.
"""

import os
import shutil
from typing import NoReturn

import pytest

_PROGRAMS = {
    "ngspice": ("ngspice",),
    "chromium": ("chromium", "chromium-browser"),
    "pdftotext": ("pdftotext",),
    "pdftoppm": ("pdftoppm",),
}


def require(name: str) -> str:
    """Return the path of an outside program, or skip the test (fail where it must be there).

    Parameters
    ----------
    name : str
        "ngspice", "chromium", "pdftotext" or "pdftoppm".
    """
    for program in _PROGRAMS[name]:
        path = shutil.which(program)
        if path is not None:
            return path
    missing(f"the program {name} is not installed")


def missing(reason: str) -> NoReturn:
    """Skip the running test for a reason, or fail it where every oracle must be there."""
    if os.environ.get("YIELDKIT_REQUIRE_ORACLES") == "1":
        pytest.fail(f"an oracle is required but {reason}", pytrace=False)
    pytest.skip(reason)
