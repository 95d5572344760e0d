"""A site file with more wirings in it, its comments and order kept."""

from __future__ import annotations

import io
from collections.abc import Sequence

from ruamel.yaml import YAML

from yieldkit.config.files import read_site_text
from yieldkit.config.site import Wiring


def with_wirings(text: str, wirings: Sequence[Wiring]) -> str:
    """Return the text of a site file with wirings added at the end of its own.

    Parameters
    ----------
    text : str
        The site file.
    wirings : sequence of Wiring
        What to add; a name that is taken already gets a number.

    Raises
    ------
    InputError
        If the result is no sound site file.
    """
    yaml = YAML()
    yaml.width = 100
    yaml.preserve_quotes = True
    content = yaml.load(text)
    taken = {str(each["name"]) for each in content["wirings"]}
    for wiring in wirings:
        name = wiring.name
        number = 2
        while name in taken:
            name = f"{wiring.name} ({number})"
            number += 1
        taken.add(name)
        content["wirings"].append(_plain(wiring, name))
    stream = io.StringIO()
    yaml.dump(content, stream)
    read_site_text(stream.getvalue())
    return stream.getvalue()


def _plain(wiring: Wiring, name: str) -> dict[str, object]:
    """Return a wiring as keys and lists, without what is left at its default."""
    plain = wiring.model_dump(mode="json", exclude_defaults=True)
    return {**plain, "name": name}
