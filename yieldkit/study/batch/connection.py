"""Connecting to a scheduler and leaving it, waiting for nobody longer than is said."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from functools import partial
from queue import Empty, Queue
from threading import Thread
from typing import Any, TypeVar

from distributed import Client

T = TypeVar("T")

CLOSE_S = 10.0
"""How long closing may take [s]."""
_SLACK_S = 2.0
"""How much longer than its own limit a call may take before nobody waits for it [s]."""


def connected(scheduler: str, answer_s: float) -> Client:
    """Connect; a second time if need be, for a handshake lost on its way waits without a limit.

    Parameters
    ----------
    scheduler : str
        Its address.
    answer_s : float
        How long it may take to answer [s].

    Raises
    ------
    OSError, ValueError, TypeError
        If it doesn't answer, or that is no address.
    """
    half_s = answer_s / 2.0
    connect = partial(_opened, scheduler, half_s)
    with contextlib.suppress(TimeoutError):
        return within(half_s, connect)
    return within(half_s, connect)


def _opened(scheduler: str, timeout_s: float) -> Client:
    """Connect, and leave nothing behind that isn't closed.

    A client that couldn't connect closes itself when it is collected as garbage, and may be so in
    the thread of the next one's event loop: which then waits for a lock that its own start holds.
    """
    client = Client.__new__(Client)
    try:
        client.__init__(scheduler, timeout=timeout_s, set_as_default=False)  # type: ignore[misc]
    except BaseException:
        closed(client)
        raise
    return client


def within(seconds: float, call: Callable[[], T]) -> T:
    """Return what a call gives, and wait no longer: not every call of a client has a limit.

    Parameters
    ----------
    seconds : float
        How long.
    call : callable
        What is called, in a thread of its own.

    Raises
    ------
    TimeoutError
        If it takes longer; nobody waits for its thread.
    """
    answers: Queue[tuple[bool, Any]] = Queue()

    def ask() -> None:
        try:
            answers.put((True, call()))
        except BaseException as error:
            answers.put((False, error))

    Thread(target=ask, daemon=True).start()
    try:
        good, found = answers.get(timeout=seconds + _SLACK_S)
    except Empty:
        raise TimeoutError("nothing came back") from None
    if not good:
        raise found
    answer: T = found
    return answer


def closed(client: Client) -> None:
    """Close a client, whatever has become of its scheduler.

    Parameters
    ----------
    client : Client
        The client.
    """
    with contextlib.suppress(Exception):  # the scheduler may be gone; nothing is waited for
        within(CLOSE_S, partial(client.close, timeout=CLOSE_S))
