"""The ground of every configuration model, and the few kinds of values they share."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from yieldkit.base.plain_text import steers


class Frozen(BaseModel):
    """Base of every configuration model: frozen, strict, no unknown keys, no inf or nan.

    What a model needs to check values is built when it first checks some, and what its fields mean
    is read from the source when it is asked for: both together took a fifth of a second of every
    command.
    """

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        allow_inf_nan=False,
        validate_default=True,
        defer_build=True,
    )

    def __repr_args__(self) -> Iterator[tuple[str | None, object]]:
        """Show only what was said: values that are the default are left out."""
        known = type(self).model_fields
        for name, value in super().__repr_args__():
            if name not in known or value != known[name].default:
                yield name, value


def one_line(text: str) -> str:
    """Return text of one line as it is; raise ValueError for any other."""
    if not (text.isascii() and text.isprintable()) and any(map(steers, text)):
        raise ValueError("text without control signs, line breaks or direction signs")
    if text.strip() != text or not text:
        raise ValueError("some text, without blanks around it")
    return text


def _lines(text: str) -> str:
    if any(steers(char) for char in text if char not in "\n\t"):
        raise ValueError("text without control signs or direction signs")
    return text


def twelve(what: str) -> AfterValidator:
    """Return a validator of lists by month: twelve entries, from January on.

    Parameters
    ----------
    what : str
        What the entries are, such as "shares".
    """

    def checked(values: tuple[float, ...]) -> tuple[float, ...]:
        if len(values) != 12:
            raise ValueError(f"12 {what}, one for each month from January on")
        return values

    return AfterValidator(checked)


Name = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(one_line)]
"""What a person calls something: one line that other parts of the file refer to."""
FileName = Annotated[str, Field(min_length=1, max_length=1000), AfterValidator(one_line)]
"""A path, or the name of a data set."""
Text = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(one_line)]
"""A remark of one line."""
Notes = Annotated[str, Field(max_length=4000), AfterValidator(_lines)]
"""Free text of several lines."""
Positive = Annotated[float, Field(gt=0, le=1e9)]
NotNegative = Annotated[float, Field(ge=0, le=1e9)]
Count = Annotated[int, Field(ge=1, le=100_000)]
Celsius = Annotated[float, Field(ge=-100, le=200)]
"""A temperature [degC]."""
CrossSection = Annotated[float, Field(ge=0.5, le=1000)]
"""Of one conductor [mm2]."""
Share = Annotated[float, Field(gt=0, le=1)]
"""An efficiency or another share, as a number up to 1, never in percent."""
