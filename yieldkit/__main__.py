"""Run the command line with `python -m yieldkit`."""

import sys

from yieldkit.cli.main import main

sys.exit(main())
