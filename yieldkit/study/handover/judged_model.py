"""What the judge asks of a model of readings, whatever was read."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.study.handover.slips import Slip


class JudgedModel(Protocol):
    """Readings as functions of what is unknown, for all slips at once."""

    @property
    def slips(self) -> tuple[Slip, ...]:
        """All that the readings are held against."""

    @property
    def unknowns(self) -> int:
        """How many unknowns there are."""

    @property
    def value(self) -> FloatArray:
        """What was read, each in its unit (reading,)."""

    def only(self, at: IntArray) -> JudgedModel:
        """Return the same for some of the slips, by their positions."""

    def at(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what is read, and how it follows the unknowns.

        Parameters
        ----------
        unknowns : ndarray
            In standard deviations (slip, unknown).

        Returns
        -------
        tuple of ndarray
            Values (slip, reading) and slopes (slip, reading, unknown).
        """

    def noise_under(self) -> FloatArray:
        """Return the standard deviation of each reading by itself (slip, reading)."""


def distances(model: JudgedModel, at: int = 0) -> FloatArray:
    """Return how far apart slips read, in standard deviations of all that is unknown (slip, slip).

    Parameters
    ----------
    model : JudgedModel
        The readings under each slip.
    at : int
        The slip in whose covariance that is measured.
    """
    values, slopes = model.at(np.zeros((len(model.slips), model.unknowns)))
    noise = np.square(model.noise_under()[at])
    covariance = slopes[at] @ slopes[at].T + np.diag(noise)
    root = np.linalg.inv(np.linalg.cholesky(covariance))
    white = values @ root.T
    return np.array([np.sqrt(np.square(white - own).sum(axis=1)) for own in white])
