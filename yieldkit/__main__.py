"""Run the command line with `python -m yieldkit`."""

import sys

from yieldkit.cli.process import run

sys.exit(run())
