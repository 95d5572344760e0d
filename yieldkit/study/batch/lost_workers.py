"""What is told when a batch's scheduler or workers are gone or say nothing."""

from __future__ import annotations

from typing import NoReturn

from yieldkit.base.errors import refuse


def refuse_gone(where: str) -> NoReturn:
    """Tell that the scheduler is gone.

    Parameters
    ----------
    where : str
        What the message calls it.

    Raises
    ------
    InputError
        Always.
    """
    refuse(
        where,
        "no answer any more: the scheduler has ended, or the network to it",
        "a scheduler that lives as long as the batch",
        remedy="Start it and give the same command again: every part written is kept.",
    )


def refuse_without_workers(where: str, seconds: float) -> NoReturn:
    """Tell that there is no worker.

    Parameters
    ----------
    where : str
        As for `refuse_gone`.
    seconds : float
        How long one was waited for [s].

    Raises
    ------
    InputError
        Always.
    """
    refuse(
        where,
        f"no worker within {seconds:g} s",
        "at least one worker, such as `dask worker ADDRESS --nthreads 1` starts",
        remedy="Start workers and give the same command again: every part written is kept.",
    )


def refuse_silent(where: str, seconds: float) -> NoReturn:
    """Tell that workers are there and nothing comes back.

    Parameters
    ----------
    where, seconds
        As for `refuse_without_workers`.

    Raises
    ------
    InputError
        Always.
    """
    refuse(
        where,
        f"nothing from any worker for {seconds / 60:g} minutes",
        "parts that come back every second or two",
        cause="A worker that hangs, or runs of very long series?",
        remedy="Look at the workers, and give the same command again.",
    )


def refuse_unanswered(scheduler: str, seconds: float, why: str) -> NoReturn:
    """Tell that a scheduler doesn't answer.

    Parameters
    ----------
    scheduler : str
        The address that was given.
    seconds : float
        How long an answer was waited for [s].
    why : str
        What was found instead.

    Raises
    ------
    InputError
        Always.
    """
    refuse(
        f"scheduler {scheduler}",
        f"no answer within {seconds:g} s ({why})",
        "the address of a running Dask scheduler, such as tcp://10.0.0.5:8786",
        remedy="Start one with `dask scheduler`, or leave --scheduler out to compute here.",
    )
