"""Colour maps with even steps of lightness, readable with colour-blind eyes and in grey print.

"viridis" and "cividis" are evenly spaced entries of the maps published by the matplotlib project (CC0),
written down from memory. "ember" is our own, from the plain grey of a part to dark red, in even steps of
lightness: for faults on an otherwise plain part. The tests check the steps.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..mesh import Floats

_VIRIDIS = """440154 481568 482677 453781 3f4788 39558c 32648e 2d718e 287d8e 238a8d 1f968b 20a386 29af7f
3dbc74 56c667 75d054 95d840 b8de29 dce319 fde725"""
_CIVIDIS = """00224e 00285b 002d6c 0b336f 23396f 31446b 3b496c 4a556c 575d6d 61656f 6b6d71 747475 7d7c78
878479 918c78 9b9476 a59c74 b0a470 bcae6c c8b866 d4c25f e0cb59 eed54a fee838"""


_EMBER = """dee0e3 ead09e ecbf7a ebae62 ea9c4c e48b43 de7a3b d76933 cb5b31 bf4c30 b33e2e a2342e 922a2e 81202e
70192c 5e1329 4c0d26"""


def _read(table: str) -> Floats:
    return np.array([[int(word[k : k + 2], 16) / 255 for k in (0, 2, 4)] for word in table.split()])


MAPS: dict[str, Floats] = {"viridis": _read(_VIRIDIS), "cividis": _read(_CIVIDIS), "ember": _read(_EMBER)}


def colours_of(
    values: NDArray[np.floating], low: float, high: float, name: str = "viridis"
) -> NDArray[np.float64]:
    """Colours of values by straight interpolation in a table.

    Parameters
    ----------
    values : any shape; what lies outside low..high takes the end colours.
    low, high : the ends of the scale, in the unit of the values; high > low.
    name : "viridis", "cividis" or "ember".

    Returns
    -------
    Colours of shape (..., 3), sRGB from 0 to 1.
    """
    table = MAPS[name]
    share = np.clip((np.asarray(values, dtype=np.float64) - low) / (high - low), 0.0, 1.0)
    stops = np.linspace(0.0, 1.0, len(table))
    return np.stack([np.interp(share, stops, table[:, k]) for k in range(3)], axis=-1)
