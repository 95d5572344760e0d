"""What a worker is asked to do, named without loading the solvers where it is only handed out."""

from __future__ import annotations

from importlib import import_module

from yieldkit.study.batch.part import Done, Part

_LATER = {"part_work": "yieldkit.study.batch.part_work"}
"""What only those load that compute."""


def on_worker(part: Part) -> Done:
    """Compute and write a part on a worker, which keeps what it computed.

    Parameters
    ----------
    part : Part
        The part.
    """
    work = import_module(_LATER["part_work"])
    done: Done = work.computed_part(part, work.own_work())
    return done
