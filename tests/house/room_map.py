"""The map of the rooms in DEVELOPERS.md, made from the first line of each room's docstring.

Run `python -m tests.house.room_map` to bring the map up to date.
"""

import ast

from tests.house.layers import BELOW, PACKAGE, ROOT, rooms, wing

GUIDE = ROOT / "DEVELOPERS.md"
BEGIN, END = "<!-- map: begins -->", "<!-- map: ends -->"


def room_map() -> str:
    """Return the map: a table of rooms for each wing, from the top of the house down."""
    trees = rooms(PACKAGE)
    parts = []
    for name in BELOW:
        members = {module: tree for module, tree in trees.items() if wing(module) == name}
        title = (
            f"yieldkit/{name}/" if f"yieldkit.{name}" in trees and name != "cli" else "yieldkit/"
        )
        parts.append(f"### {title}\n")
        head = ast.get_docstring(members.get(f"yieldkit.{name}", ast.Module([], [])))
        if head and name != "cli":
            parts.append(head.splitlines()[0] + "\n")
        parts.append("| room | what it is |\n|---|---|")
        for module, tree in members.items():
            if module == f"yieldkit.{name}" and name != "cli":
                continue
            first = (ast.get_docstring(tree) or "").splitlines()[0].replace("|", "\\|")
            room = "__init__" if module == "yieldkit" else module.rsplit(".", 1)[1]
            parts.append(f"| `{room}.py` | {first} |")
        parts.append("")
    return "\n".join(parts)


def written_map() -> str:
    """Return the map as it stands in the guide."""
    text = GUIDE.read_text(encoding="utf-8")
    return text.split(BEGIN, 1)[1].split(END, 1)[0].strip()


def write_map() -> None:
    """Put the map of today into the guide."""
    text = GUIDE.read_text(encoding="utf-8")
    head, rest = text.split(BEGIN, 1)
    tail = rest.split(END, 1)[1]
    GUIDE.write_text(f"{head}{BEGIN}\n\n{room_map()}\n{END}{tail}", encoding="utf-8")


if __name__ == "__main__":
    write_map()
