"""Run every benchmark: a table, or with --json one flat object of named numbers.

Keys end in `_s`, `_ms` or `_time_ratio` (smaller is better) or `_speedup` (larger is better).
"""

import argparse
import json
import sys
from importlib import import_module
from pathlib import Path

from benchmarks.versions import against

_NOT_BENCHMARKS = {
    "__init__",
    "__main__",
    "library_chain",
    "timing",
    "version_jobs",
    "versions",
}
_ENDINGS = {"_s": "smaller", "_ms": "smaller", "_time_ratio": "smaller", "_speedup": "larger"}


def modules() -> list[str]:
    """Return the names of the benchmark modules."""
    names = sorted(path.stem for path in Path(__file__).parent.glob("*.py"))
    return [name for name in names if name not in _NOT_BENCHMARKS]


def better(key: str) -> str:
    """Return whether smaller or larger is better.

    Raises
    ------
    ValueError
        If the key's ending doesn't tell.
    """
    for ending, word in _ENDINGS.items():
        if key.endswith(ending):
            return word
    raise ValueError(f"benchmark '{key}' must end in one of {', '.join(_ENDINGS)}")


def main() -> int:
    """Run the benchmarks that were named, or all, and print what they gave."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(modules())}")
    parser.add_argument("--json", action="store_true", help="print one flat JSON object")
    parser.add_argument(
        "--old", metavar="PYTHON", help="instead: against the version in another environment"
    )
    options = parser.parse_args()
    unknown = [name for name in options.names if name not in modules()]
    if unknown:
        parser.error(f"no benchmark {', '.join(unknown)}; there are {', '.join(modules())}")
    numbers: dict[str, float] = {}
    works = [import_module(f"benchmarks.{name}").run for name in options.names or modules()]
    for work in [lambda: against(options.old)] if options.old else works:
        found = work()
        for key, value in found.items():
            line = f"{key:48} {value:12.4g}   {better(key)} is better"
            if not options.json:
                print(line, flush=True)
        numbers.update(found)
    if options.json:
        print(json.dumps(numbers, indent=2))
    return 0


if __name__ == "__main__":
    sys.exit(main())
