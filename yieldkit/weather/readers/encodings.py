"""How a weather file's signs are encoded: UTF-8, UTF-16 where it says so, else Windows' set."""

from __future__ import annotations

import codecs

from yieldkit.base.errors import refuse

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_LOOK_FOR_NULLS = 4096


def found_encoding(content: bytes, said: str | None, where: str) -> str:
    """Return the encoding of a text file.

    Parameters
    ----------
    content : bytes
        The whole file.
    said : str or None
        What the user says; it is kept to.
    where : str
        File name, for errors.

    Returns
    -------
    str
        The name of a codec: what the user or the file's first bytes say, else UTF-8 where the
        whole file is UTF-8, else cp1252 (of which latin-1's letters are a part) where every byte
        has a sign in it.

    Raises
    ------
    InputError
        If it is neither, or isn't what the user says.
    """
    if said is not None:
        _refuse_unlike(content, said, where)
        return said
    for mark, name in _MARKS:
        if content.startswith(mark):
            return name
    if b"\x00" not in content[:_LOOK_FOR_NULLS]:
        for name in ("utf-8", "cp1252"):
            if _decodes(content, name):
                return name
    refuse(
        f"{where}, encoding",
        "signs that are neither UTF-8 nor the Windows set cp1252",
        "a text file",
        remedy="Write encoding: ... into the weather block, such as encoding: utf-16, or save the "
        "file as UTF-8",
    )


def _decodes(content: bytes, name: str) -> bool:
    try:
        content.decode(name)
    except UnicodeDecodeError:
        return False
    return True


def _refuse_unlike(content: bytes, said: str, where: str) -> None:
    try:
        content.decode(said)
    except (LookupError, TypeError, ValueError) as error:
        unknown = isinstance(error, LookupError)
        refuse(
            "weather.encoding",
            f"'{said}'" + ("" if unknown else f", which {where} isn't written in"),
            "the name of an encoding, such as utf-8, cp1252, latin-1 or utf-16",
            remedy="Leave it out to have it found.",
        )


def decoded(content: bytes, said: str | None, where: str) -> str:
    """Return the text of a file.

    Raises
    ------
    InputError
        As `found_encoding`.
    """
    return content.decode(found_encoding(content, said, where)).replace("\r\n", "\n")
