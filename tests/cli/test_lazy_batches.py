"""Commands that compute no batch with workers load nothing for it."""

import subprocess
import sys

import pytest

pytestmark = pytest.mark.slow

LOOK = """\
import sys
import yieldkit.cli.check, yieldkit.cli.simulate
print("fsspec" in sys.modules)
import yieldkit.cli.compare, yieldkit.cli.propose, yieldkit.cli.sweep
print("fsspec" in sys.modules, {"dask", "distributed"} & set(sys.modules))
"""


def test_dask_is_loaded_where_workers_are_wanted_and_a_store_for_batches_only():
    done = subprocess.run(
        [sys.executable, "-c", LOOK], capture_output=True, text=True, check=True, timeout=120
    )
    assert done.stdout.splitlines() == ["False", "True set()"]
