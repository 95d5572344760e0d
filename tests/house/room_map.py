"""The map of the rooms in DEVELOPERS.md, made from the first line of each room's docstring.

Run `python -m tests.house.room_map` to bring the map up to date.
"""

import ast

from tests.house.layers import BELOW, PACKAGE, ROOT, rooms

GUIDE = ROOT / "DEVELOPERS.md"
BEGIN, END = "<!-- map: begins -->", "<!-- map: ends -->"


def room_map() -> str:
    """Return the map: a table of rooms for each wing, from the top of the house down."""
    trees = rooms(PACKAGE)
    parts = [
        _section("yieldkit/", [(name, trees[name]) for name in ("yieldkit", "yieldkit.__main__")])
    ]
    for name in BELOW:
        base = f"yieldkit.{name}"
        ground = {m: tree for m, tree in trees.items() if m.rpartition(".")[0] == base}
        inner = [m for m in ground if any(other.startswith(f"{m}.") for other in trees)]
        parts.append(f"### yieldkit/{name}/\n\n{_first_line(trees[base])}\n")
        own = [(m, tree) for m, tree in ground.items() if m not in inner]
        if own:
            parts.append(_rows(own))
        for package in inner:
            within = [(m, tree) for m, tree in trees.items() if m.rpartition(".")[0] == package]
            title = package.replace(".", "/")
            parts.append(f"#### {title}/\n\n{_first_line(trees[package])}\n")
            if within:
                parts.append(_rows(within))
    return "\n".join(parts)


def _section(title: str, members: list[tuple[str, ast.Module]]) -> str:
    return f"### {title}\n\n{_rows(members)}"


def _rows(members: list[tuple[str, ast.Module]]) -> str:
    lines = ["| room | what it is |", "|---|---|"]
    for module, tree in members:
        room = "__init__" if module == "yieldkit" else module.rsplit(".", 1)[1]
        lines.append(f"| `{room}.py` | {_first_line(tree)} |")
    return "\n".join([*lines, ""])


def _first_line(tree: ast.Module) -> str:
    return (ast.get_docstring(tree) or "").splitlines()[0].replace("|", "\\|")


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
