"""A YAML parser's complaint in words a person can use."""

from __future__ import annotations

from yieldkit.config.reading.wording import visible

_COMMON = (
    (
        "mapping values are not allowed here",
        "a colon where no key can stand",
        "one 'key: value' on a line, keys of a map below one another",
        "Put text that holds a colon in quotes, and check the indentation of this line.",
    ),
    (
        "cannot start any token",
        "a tab or another sign that can't begin a value",
        "blanks for indentation",
        "Replace tabs by blanks; put text that begins with @, ` or % in quotes.",
    ),
    (
        "could not find expected ':'",
        "a line without a colon",
        "'key: value'",
        "Add the colon and a blank after the key.",
    ),
    (
        "found unexpected end of stream",
        "the end of the file inside quotes",
        "a closing quote",
        "Close the quotes.",
    ),
    (
        "unexpected end of stream",
        "the end of the file inside brackets",
        "a closing bracket",
        "Close the brackets.",
    ),
    (
        "expected ',' or ']'",
        "a list in brackets that isn't closed",
        "',' or ']'",
        "Close the brackets, or add the missing comma.",
    ),
    (
        "expected ',' or '}'",
        "a map in braces that isn't closed",
        "',' or '}'",
        "Close the braces, or add the missing comma.",
    ),
    (
        "expected <block end>",
        "a line whose indentation doesn't fit the lines above",
        "keys that belong together below one another",
        "Check the indentation of this line and the ones above.",
    ),
    (
        "unknown escape character",
        "a backslash that starts no known sign",
        "a doubled backslash",
        "Write \\\\ or use single quotes.",
    ),
)


def explained(problem: str, context: str, opened: int | None) -> tuple[str, str, str]:
    """Return got, needed and remedy for a parser's complaint.

    Parameters
    ----------
    problem, context : str
        The parser's own words.
    opened : int or None
        The line where the part began that went wrong.
    """
    since = f" (begun in line {opened})" if opened is not None else ""
    for char, got, needed, remedy in _COMMON:
        if char in problem:
            return got + since, needed, remedy
    said = visible(f"{context} {problem}".strip() or "no reason given")
    return (
        f"something else ({said})",
        "valid YAML",
        "Check indentation, colons and quotes on this line.",
    )
