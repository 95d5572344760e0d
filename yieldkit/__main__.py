"""Run the command line with `python -m yieldkit`."""

import sys

from yieldkit.cli import main

sys.exit(main())
