"""Names for the kinds of numpy arrays that signatures speak of; shapes stand in the docstrings."""

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.float64]
"""Quantities, 64 bit."""

IntArray: TypeAlias = npt.NDArray[np.integer[Any]]
"""Counts, positions and codes, of whatever width."""

BoolArray: TypeAlias = npt.NDArray[np.bool_]
"""Yes or no, step by step."""

ComplexArray: TypeAlias = npt.NDArray[np.complex128]
"""Phasors and impedances."""
