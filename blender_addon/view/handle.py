# SPDX-License-Identifier: GPL-3.0-or-later
"""A handle in the view, and handles as they go into the file when it is saved.

A file keeps the meshes of what is shown, not the shape that handles are laid out from.
"""

from __future__ import annotations

import base64
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ..model.wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Handle:
    """A value that can be dragged.

    Attributes
    ----------
    key : dotted path in the recipe, "ports.0.tilt_deg".
    values, way : (k,) values in order, and places (k, 3) of the handle for them.
    at : (3,) where it stands now.
    """

    key: str
    values: Floats
    way: Floats
    at: Floats


def as_text(handles: Sequence[Handle]) -> str:
    """Handles in the world as a text; places and values in single precision, as Blender has them."""
    rows = {}
    for handle in handles:
        table = np.column_stack([handle.values, handle.way])
        rows[handle.key] = [_packed(table), handle.at.tolist()]
    return json.dumps(rows)


def of_text(text: str) -> list[Handle]:
    """Handles of a text that `as_text` wrote; none of an empty one."""
    found = []
    for key, (packed, at) in json.loads(text).items() if text else ():
        table = np.frombuffer(base64.b64decode(packed), dtype="<f4").reshape(-1, 4).astype(np.float64)
        found.append(Handle(key, table[:, 0], table[:, 1:], np.array(at, dtype=np.float64)))
    return found


def _packed(table: Floats) -> str:
    return base64.b64encode(np.ascontiguousarray(table, dtype="<f4").tobytes()).decode("ascii")


def write(wearer: SEALWRIGHT_PG_wearer, of: str, handles: Sequence[Handle]) -> None:
    """Keep the handles of inputs with this print with the wearer."""
    if handles:
        wearer.handles_kept, wearer.handles_from = as_text(handles), of
