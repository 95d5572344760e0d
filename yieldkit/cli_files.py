"""The commands about site files: new and schema."""

from __future__ import annotations

import json
from argparse import Namespace
from pathlib import Path

from yieldkit.cli_site import say
from yieldkit.config.files import new_site_text
from yieldkit.config.files import schema as site_schema
from yieldkit.words.errors import refuse
from yieldkit.words.store import write_text

DONE = 0


def schema(options: Namespace) -> int:
    """Print the JSON schema of a site file."""
    say(json.dumps(site_schema(), indent=2))
    return DONE


def new(options: Namespace) -> int:
    """Write a commented site file; an existing file is not touched."""
    path = Path(options.file)
    if path.exists():
        refuse(str(path), "a file that exists", "a new name", remedy="Name another file.")
    write_text(path, new_site_text(), record=False)
    say(f"Wrote {path}. Edit it, then run: yieldkit compare {path}")
    say("Its weather is of 45 N 8 E: for any other place name a weather file of that place.")
    return DONE
