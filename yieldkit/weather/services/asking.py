"""Asking a service over the network: how long to wait, when to ask again, and what to say."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from typing import NoReturn, TypeVar

import requests
from urllib3.exceptions import ProtocolError

from yieldkit.base.errors import YieldkitError, refuse
from yieldkit.base.plain_text import plain_line

TIMEOUT_S = 30.0
"""Longest silence of a service, and longest answer of one that can't be told how long to wait."""
_TIMES = 2
_WORDS_LENGTH = 240

Answer = TypeVar("Answer")


class _Late(Exception):
    """No answer in time."""


def ask(call: Callable[[], Answer], where: str, secrets: tuple[str, ...] = ()) -> Answer:
    """Ask a service; once more if it is silent or breaks off.

    Parameters
    ----------
    call : callable
        Asks and reads the answer.
    where : str
        The service, for the error.
    secrets : tuple of str
        Keys that no message may repeat.

    Returns
    -------
    object
        What the call returns.

    Raises
    ------
    InputError
        In one sentence, for whatever stands between us and the data.
    """
    for _time in range(_TIMES):
        try:
            return call()
        except YieldkitError:
            raise
        except Exception as error:  # whatever a library raises becomes one sentence
            failed = error
        if not _worth_again(failed):
            break
    # Told outside of the handler: a traceback would show the address, and with it a key.
    _tell(failed, where, secrets)


def in_time(call: Callable[[], Answer]) -> Answer:
    """Return a call's answer, or give up on it: for calls that can't be told how long to wait.

    The library that asks sets its own sockets to wait for ever, whatever their default is, so the
    call runs on a thread that is left behind.

    Parameters
    ----------
    call : callable
        Asks and reads the answer.
    """
    answers: list[Answer] = []
    errors: list[Exception] = []

    def run() -> None:
        try:
            answers.append(call())
        except Exception as error:  # handed on to the thread that waits
            errors.append(error)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    thread.join(TIMEOUT_S)
    if errors:
        raise errors[0]
    if not answers:
        raise _Late
    return answers[0]


def _silent(error: Exception) -> bool:
    return isinstance(error, _Late | requests.Timeout)


def _broken_off(error: Exception) -> bool:
    if isinstance(error, requests.exceptions.ChunkedEncodingError):
        return True
    cause = error.args[0] if error.args else None
    return isinstance(error, requests.ConnectionError) and isinstance(cause, ProtocolError)


def _worth_again(error: Exception) -> bool:
    return _silent(error) or _broken_off(error)


def _tell(error: Exception, where: str, secrets: tuple[str, ...]) -> NoReturn:
    """Say in one sentence what happened."""
    later = "Nothing was written. Ask again later, or take another --source."
    if _silent(error):
        refuse(where, f"no answer within {TIMEOUT_S:g} s, asked twice", "data", remedy=later)
    if _broken_off(error):
        refuse(where, "an answer that breaks off, asked twice", "a whole answer", remedy=later)
    if isinstance(error, requests.HTTPError):
        _tell_status(error, where, secrets, later)
    if isinstance(error, requests.ConnectionError):
        remedy = "Nothing was written. Is this computer on the network, with its proxy set?"
        refuse(where, "no connection", "a network that leads to the service", remedy=remedy)
    if isinstance(error, json.JSONDecodeError):
        _tell_text(error, where, later)
    got = f"an answer that can't be read ({type(error).__name__}: {_hidden(str(error), secrets)})"
    refuse(where, got, "data in the form this service gave so far", remedy=later)


def _tell_status(
    error: requests.HTTPError, where: str, secrets: tuple[str, ...], later: str
) -> NoReturn:
    status = error.response.status_code if error.response is not None else 0
    text = _hidden(str(error), secrets)
    if status == 429 or "too many requests" in text.lower() or "over_rate" in text.lower():
        refuse(where, "a refusal, for too many questions (429)", "data", remedy=later)
    if status >= 500:
        refuse(where, f"an error of the service's own ({status})", "data", remedy=later)
    if status in (401, 403):
        remedy = "Nothing was written. Is the key right, and set in this terminal?"
        refuse(where, f"a refusal of the key ({status})", "a key the service knows", remedy=remedy)
    remedy = "Nothing was written. Change --at, --years or --source."
    refuse(where, f"a refusal in these words: '{text}'", "data", remedy=remedy)


def _tell_text(error: json.JSONDecodeError, where: str, later: str) -> NoReturn:
    begins = error.doc.lstrip()[:1]
    if begins == "<":
        cause = "Is the service down or busy, or does a login page of this network stand between?"
        refuse(where, "a web page", "data", cause=cause, remedy=later)
    cut = "an answer that breaks off" if begins in ("{", "[") else "an answer that holds no data"
    refuse(where, cut, "a whole answer", remedy=later)


def _hidden(text: str, secrets: tuple[str, ...]) -> str:
    """Return a service's words as one short line, without keys."""
    for secret in secrets:
        text = text.replace(secret, "***") if secret else text
    text = plain_line(text)
    return text if len(text) <= _WORDS_LENGTH else text[: _WORDS_LENGTH - 3] + "..."
