"""Computes a plan as a program: PLAN OUT and WORKERS, "cores" or a scheduler's address.

Prints what was done as JSON and ends with 0, 3 if a run failed, or with 2 and the sentence why not.
"""

import json
import sys

from yieldkit.base.errors import InputError
from yieldkit.study.batch.sweep import sweep


def main():
    """Compute the plan."""
    plan, folder, by = sys.argv[1:]
    options = {"workers": int(by)} if by.isdigit() else {"scheduler": by}
    if by == "cores":
        options = {}
    try:
        said = sweep(plan, folder, **options)
    except InputError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    sys.stdout.write(json.dumps(said._asdict()) + "\n")
    return 3 if said.failed else 0


if __name__ == "__main__":
    sys.exit(main())
