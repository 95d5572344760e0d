"""Conditions that leave runs out: comparisons, read and never run as code.

condition   = each ("or" each)*
each        = part ("and" part)*
part        = "not" part | "(" condition ")" | comparison
comparison  = operand (("<" | "<=" | ">" | ">=" | "==" | "!=") operand)+
| operand ["not"] "in" "[" value ("," value)* "]"
operand     = the name of an axis | value
value       = number | text in quotes | "true" | "false"
"""

from __future__ import annotations

import operator
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NoReturn

from yieldkit.base.errors import nearest, refuse
from yieldkit.config.reading.wording import one_of, shown

_TOKEN = re.compile(
    r"""\s*(?:
        (?P<number>\d+(?:\.\d*)?(?:[eE][+-]?\d+)?|\.\d+)(?![\w.])
      | (?P<text>"[^"]*"|'[^']*')
      | (?P<word>[A-Za-z][A-Za-z0-9_]*)
      | (?P<sign><=|>=|==|!=|<|>|\(|\)|\[|\]|,|-)
    )""",
    re.VERBOSE,
)
_SIGNS: dict[str, Callable[[Any, Any], bool]] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
    "==": operator.eq,
    "!=": operator.ne,
}
_KINDS = {bool: "true or false", str: "text", float: "numbers"}
_DEEPEST = 30
_LIKE = "a condition such as tilt < 10 and wiring == 'lopsided'"
Holds = Callable[[Mapping[str, Any]], bool]
"""Whether a condition holds of a run's values, by the names of its axes."""


@dataclass(frozen=True)
class Condition:
    """A condition that was read.

    Parameters
    ----------
    text : str
        As it was written.
    names : frozenset of str
        The axes it speaks of.
    holds : callable
        Given a run's values by axis, whether it is left out.
    """

    text: str
    names: frozenset[str]
    holds: Holds


@dataclass(frozen=True)
class _Operand:
    kind: type
    value: Any
    name: str | None = None

    def of(self, values: Mapping[str, Any]) -> Any:
        return self.value if self.name is None else values[self.name]


def kind_of(value: Any) -> type:
    """Return bool, str or float: what values of one axis must agree in."""
    return type(value) if isinstance(value, bool | str) else float


def read_condition(text: str, known: Mapping[str, Sequence[Any]], where: str) -> Condition:
    """Read a condition.

    Parameters
    ----------
    text : str
        Comparisons of axes with values or axes, joined by and, or, not and parentheses.
    known : mapping
        Every axis' values by its name.
    where : str
        File and line, for messages.

    Raises
    ------
    InputError
        With the line: for anything but comparisons of known axes, and comparisons that can't be
        meant, such as of a number with text, or with text that the axis never takes.
    """
    reading = _Reading(text, known, where)
    holds = reading.condition(0)
    if reading.token:
        reading.unexpected()
    return Condition(text, frozenset(reading.names), holds)


class _Reading:
    """Goes through the text from left to right, a token at a time."""

    def __init__(self, text: str, known: Mapping[str, Sequence[Any]], where: str) -> None:
        self.text, self.known, self.where = text, known, where
        self.names: set[str] = set()
        self.spot = 0
        self.kind, self.token = "", ""
        self._next()

    def _next(self) -> str:
        """Go on to the next token and return the one before."""
        before, rest = self.token, self.text[self.spot :]
        if not rest.strip():
            self.kind, self.token, self.spot = "", "", len(self.text)
            return before
        match = _TOKEN.match(self.text, self.spot)
        if match is None:
            self.refuse(f"{shown(rest.strip())}", _LIKE)
        self.kind, self.spot = str(match.lastgroup), match.end()
        self.token = match[self.kind]
        return before

    def refuse(self, got: str, needed: str, remedy: str = "") -> NoReturn:
        refuse(self.where, f"{got} in the condition {shown(self.text)}", needed, remedy=remedy)

    def unexpected(self) -> NoReturn:
        got = shown(self.token) if self.token else "an end"
        self.refuse(got, _LIKE)

    def condition(self, depth: int) -> Holds:
        if depth > _DEEPEST:
            self.refuse(f"more than {_DEEPEST} levels", "a simpler condition")
        return self._joined("or", any, lambda: self._joined("and", all, lambda: self._part(depth)))

    def _joined(self, word: str, join: Callable[[Any], bool], part: Callable[[], Holds]) -> Holds:
        parts = [part()]
        while self.token == word:
            self._next()
            parts.append(part())
        if len(parts) == 1:
            return parts[0]
        return lambda values: join(holds(values) for holds in parts)

    def _part(self, depth: int) -> Holds:
        if depth > _DEEPEST:
            self.refuse(f"more than {_DEEPEST} levels", "a simpler condition")
        if self.token == "not":
            self._next()
            inner = self._part(depth + 1)
            return lambda values: not inner(values)
        if self.token == "(":
            self._next()
            inner = self.condition(depth + 1)
            self._take(")")
            return inner
        return self._comparison()

    def _take(self, sign: str) -> None:
        if self.token != sign:
            self.unexpected()
        self._next()

    def _comparison(self) -> Holds:
        first = self._operand()
        if self.token in ("in", "not"):
            return self._among(first)
        if self.token not in _SIGNS:
            got = f"'{first.name}' alone" if first.name else shown(first.value) + " alone"
            self.refuse(got, _LIKE, "Compare it with a value: <, <=, >, >=, ==, != or in [...].")
        chain: list[tuple[Callable[[Any, Any], bool], _Operand, _Operand]] = []
        left, named = first, first.name is not None
        while self.token in _SIGNS:
            sign = self._next()
            right = self._operand()
            self._refuse_unlike(left, sign, right)
            named = named or right.name is not None
            chain.append((_SIGNS[sign], left, right))
            left = right
        if not named:
            self.refuse("a comparison without an axis", _LIKE, self._axes())
        return lambda values: all(
            compare(one.of(values), other.of(values)) for compare, one, other in chain
        )

    def _among(self, first: _Operand) -> Holds:
        refused = self.token == "not"
        if refused:
            self._next()
        if first.name is None or self.token != "in":
            self.unexpected()
        self._next()
        self._take("[")
        allowed = []
        while True:
            value = self._operand()
            if value.name is not None:
                self.refuse(f"the axis '{value.name}' in a list", "values in the list")
            self._refuse_unlike(first, "==", value)
            allowed.append(value.value)
            if self.token != ",":
                break
            self._next()
        self._take("]")
        found = frozenset(allowed)
        return lambda values: (first.of(values) in found) != refused

    def _operand(self) -> _Operand:
        negative = self.token == "-"
        if negative:
            self._next()
            if self.kind != "number":
                self.unexpected()
        kind, token = self.kind, self.token
        if kind == "number":
            self._next()
            return _Operand(float, -float(token) if negative else float(token))
        if kind == "text":
            self._next()
            return _Operand(str, token[1:-1])
        if kind != "word" or token in ("and", "or", "not", "in"):
            self.unexpected()
        self._next()
        if token in ("true", "false"):
            return _Operand(bool, token == "true")
        if token not in self.known:
            self._refuse_name(token)
        self.names.add(token)
        return _Operand(kind_of(self.known[token][0]), None, token)

    def _refuse_name(self, token: str) -> NoReturn:
        holding = [name for name, values in self.known.items() if token in values]
        close = nearest(token, self.known)
        remedy = f"Did you mean '{close}'?" if close else ""
        if holding:
            remedy = f"Text stands in quotes: {holding[0]} == '{token}'."
        self.refuse(f"the name '{token}'", one_of(self.known), remedy)

    def _axes(self) -> str:
        return "Axes: " + ", ".join(self.known) + "."

    def _refuse_unlike(self, left: _Operand, sign: str, right: _Operand) -> None:
        """Refuse a comparison that can't be meant."""
        if left.kind is not right.kind:
            got = f"a comparison of {_KINDS[left.kind]} with {_KINDS[right.kind]}"
            self.refuse(got, "values of one kind")
        if left.kind is not float and sign not in ("==", "!="):
            self.refuse(f"'{sign}' with {_KINDS[left.kind]}", "== or != or in [...]")
        for axis, value in ((left, right), (right, left)):
            if axis.name is None or value.name is not None or axis.kind is not str:
                continue
            taken = self.known[axis.name]
            if value.value not in taken:
                close = nearest(value.value, taken)
                self.refuse(
                    f"{shown(value.value)}, which '{axis.name}' never is",
                    one_of(list(taken)[:20]),
                    f"Did you mean '{close}'?" if close else "",
                )
