"""What a process of the command line loads: nothing that its command has no use for."""

import subprocess
import sys

import pytest

RUN = """
import sys
from importlib.util import find_spec
from yieldkit.cli.process import run

code = run()
print(code, find_spec("dask") is not None, any(name.startswith("dask.") for name in sys.modules))
"""


def last_line(*words):
    """Return a command's exit code, and whether the cluster's library is there, and is loaded."""
    done = subprocess.run(
        [sys.executable, "-c", RUN, *words], capture_output=True, text=True, check=True
    )
    return done.stdout.splitlines()[-1]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "told"),
    [(["check"], "0 False False"), (["simulate"], "0 False False"), (["sweep"], "0 True")],
)
def test_the_clusters_library_is_there_for_a_batch_alone(words, told):
    ends = ["--dry-run"] if words == ["sweep"] else []
    assert last_line(*words, *ends).startswith(told)
