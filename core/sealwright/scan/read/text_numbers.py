"""Numbers of a text file, quickly and without believing anything."""

from __future__ import annotations

import warnings

import numpy as np

from ...mesh import Floats


def numbers_of(text: bytes) -> Floats:
    """All numbers of a text, separated by blanks (k,).

    Raises
    ------
    ValueError : something in it is no number.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # NumPy only warns where the text stops being numbers
        try:
            return np.fromstring(text, dtype=np.float64, sep=" ")
        except DeprecationWarning as error:
            raise ValueError("a word that is no number") from error
