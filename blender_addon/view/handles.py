# SPDX-License-Identifier: GPL-3.0-or-later
"""Handles in the view: where a value can be taken hold of, and the way it moves as the value changes.

A way is laid out once from the shape that is shown; what is dragged is the place on it nearest to the mouse.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from ..model.fingerprint import inputs_print
from ..model.labels import label_of, titled
from ..model.placing import to_world
from ..model.props import read_fields
from ..model.words import told
from .handle import Handle, of_text, write

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import bpy
    from numpy.typing import NDArray

    from ..core.facepiece.body import Placed
    from ..core.facepiece.seal_line import SealLine
    from ..core.facepiece.shell import Shell
    from ..core.facepiece.strap_points import StrapPoint
    from ..model.wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]

AHEAD_MM, ASIDE_MM = (
    55.0,
    25.0,
)  # of a port's handles from its boss: in front of a holder, and beside the axis
STEPS = 121
LEFT_SHARE = 0.25  # of the way round from the nose, to the wearer's left: the cheek


class Shape(Protocol):
    """What a live preview and a finished design have in common."""

    @property
    def seal_line(self) -> SealLine | None:
        """The line, None for a tube."""

    @property
    def shell(self) -> Shell | None:
        """Band and wall."""

    @property
    def ports(self) -> tuple[Placed, ...]:
        """Where the ports are."""

    @property
    def straps(self) -> tuple[StrapPoint, ...]:
        """Where the lugs are."""


@dataclass(frozen=True)
class Shown:
    """A shape that was shown, and its frame in the world (4x4, from mm)."""

    shape: Shape
    matrix: Floats


KEPT = 8  # undo goes back to shapes that were shown before
_shown: OrderedDict[tuple[str, bool], Shown] = OrderedDict()  # by inputs and quality, the last one last


def keep(of: str, shape: Shape, matrix: Floats, full: bool = False) -> None:
    """Remember a shape that is shown, by the print of its inputs; handles are laid out from it.

    Parameters
    ----------
    full : of the parts in full quality, where a port that finds its own place hangs a little elsewhere.
    """
    _shown[of, full] = Shown(shape, matrix)
    _shown.move_to_end((of, full))
    while len(_shown) > KEPT:
        _shown.popitem(last=False)


def forget() -> None:
    """No shape is shown any more."""
    _shown.clear()


def handles_of(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, late: bool = False) -> list[Handle]:
    """The handles of the shape of the inputs as they are, in the world; of an opened file those it kept.

    Parameters
    ----------
    late : or of the shape that was shown last: while a value is dragged the shape comes after it.
    """
    now, full = inputs_print(context, wearer), wearer.quality == "FINAL"
    found = _shown.get((now, full)) or _shown.get((now, not full))
    if found is None and late and _shown:
        found = next(reversed(_shown.values()))
    if found is None and now and (wearer.handles_from == now or late):
        return of_text(wearer.handles_kept)
    if found is None or found.shape.shell is None or found.shape.seal_line is None:
        return []
    shape, matrix = found.shape, found.matrix
    laid = [*port_handles(wearer, shape.ports), *lug_handles(wearer, shape), band_handle(wearer, shape)]
    return [replace(h, way=to_world(matrix, h.way), at=to_world(matrix, h.at)) for h in laid]


def keep_in_file(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> None:
    """Write the handles of the inputs as they are into the file, where there are any."""
    write(wearer, inputs_print(context, wearer), handles_of(context, wearer))


def port_handles(wearer: SEALWRIGHT_PG_wearer, ports: Sequence[Placed]) -> Iterator[Handle]:
    """Distance, tilt and turn of each port of the recipe."""
    for number, (place, port) in enumerate(zip(wearer.recipe.ports, ports, strict=False)):
        frame = np.asarray(port.frame)
        axis, up, aside = frame[:3, 2], frame[:3, 1], frame[:3, 0]
        pivot = frame[:3, 3] - axis * place.front_mm
        tip = frame[:3, 3] + axis * AHEAD_MM
        tilt = np.degrees(np.arcsin(np.clip(-axis[2], -1.0, 1.0)))
        turn = np.degrees(np.arctan2(axis[0], -axis[1]))
        low, high = limits_of("ports.front_mm")
        values = np.linspace(low, high, STEPS)
        yield Handle(f"ports.{number}.front_mm", values, tip + (values - place.front_mm)[:, None] * axis, tip)
        for name, now, round_about, at in (
            ("tilt_deg", tilt, aside, tip + up * ASIDE_MM),
            ("turn_deg", turn, np.array([0.0, 0.0, 1.0]), tip + aside * ASIDE_MM),
        ):
            values = np.linspace(*limits_of(f"ports.{name}"), STEPS)
            way = pivot + turned(at - pivot, round_about, np.radians(values - now))
            yield Handle(f"ports.{number}.{name}", values, way, at)


def lug_handles(wearer: SEALWRIGHT_PG_wearer, shape: Shape) -> Iterator[Handle]:
    """How far round the lugs of the wearer's left stand, and how far down the wall."""
    assert shape.shell is not None
    outer, straps = np.asarray(shape.shell.outer_side), wearer.recipe.straps
    left = [point for point in shape.straps if point.station <= len(outer) // 2]
    if len(left) < 2:
        return
    for name, point in (("upper_share", left[0]), ("lower_share", left[-1])):
        at = np.asarray(point.frame)[:3, 3]
        row = int(np.linalg.norm(outer[point.station] - at, axis=1).argmin())
        values = np.linspace(*limits_of(f"straps.{name}"), STEPS)
        places = np.clip(values * len(outer) / 2.0, 0.0, len(outer) - 1.0)
        round_it = np.stack(
            [np.interp(places, np.arange(len(outer)), outer[:, row, axis]) for axis in range(3)], axis=1
        )
        yield Handle(f"straps.{name}", values, round_it, at)
    down = outer[left[0].station]
    at = np.asarray(left[0].frame)[:3, 3]
    walked = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(down, axis=0), axis=1))])
    here = walked[np.linalg.norm(down - at, axis=1).argmin()]
    values = np.linspace(*limits_of("straps.up_the_wall_mm"), STEPS)
    along = np.clip(here + values - straps.up_the_wall_mm, 0.0, walked[-1])
    way = np.stack([np.interp(along, walked, down[:, axis]) for axis in range(3)], axis=1)
    aside = np.asarray(left[0].frame)[:3, 0] * 0.5 * ASIDE_MM  # beside the handle that goes round
    yield Handle("straps.up_the_wall_mm", values, way + aside, at + aside)


def band_handle(wearer: SEALWRIGHT_PG_wearer, shape: Shape) -> Handle:
    """The outer edge of the band at the wearer's left cheek."""
    assert shape.shell is not None and shape.seal_line is not None
    station = int(LEFT_SHARE * len(shape.seal_line.points))
    across, rows = np.asarray(shape.shell.outer_side)[station], np.flatnonzero(shape.shell.contact)
    edge, out = across[0], across[rows[0]] - across[rows[len(rows) // 4]]  # along the skin at the outer edge
    out = out / np.linalg.norm(out)
    values = np.linspace(*limits_of("band.width_mm"), STEPS)
    gain = (values - wearer.recipe.band.width_mm) * (1.0 - wearer.recipe.band.inner_share)
    return Handle("band.width_mm", values, edge + gain[:, None] * out, edge)


def turned(arm: Floats, axis: Floats, angles: Floats) -> Floats:
    """An arm (3,) turned about an axis (3,) by angles (k,): Rodrigues' formula."""
    across, along = np.cross(axis, arm), axis * (axis @ arm)
    cos, sin = np.cos(angles)[:, None], np.sin(angles)[:, None]
    return np.asarray(along + cos * (arm - along) + sin * across)


def field_of(key: str) -> Any:
    """The recipe's field of a dotted key, with or without the number of a port."""
    fields, found = read_fields(), None
    for part in key.split("."):
        if not part.isdigit():
            found = next(field for field in fields if field["name"] == part)
            fields = found.get("fields", [])
    return found


def limits_of(key: str) -> tuple[float, float]:
    """Least and greatest value of a number of the recipe."""
    field = field_of(key)
    return float(field["low"]), float(field["high"])


def spoken(key: str) -> str:
    """What a handle moves, in the words of the panel."""
    first, *rest = key.split(".")
    owner = (
        told("Port {number}", number=int(rest[0]) + 1)
        if rest[0].isdigit()
        else told(titled(first.replace("_", " ")))
    )
    return f"{owner}, {told(label_of(field_of(key)))}"


def nearest_value(handle: Handle, seen: Floats, mouse: Floats, before: float, reach: float) -> float:
    """The value whose place on the screen is nearest to the mouse.

    Parameters
    ----------
    seen : (k, 2) the handle's way on the screen, NaN where it is behind the eye.
    before, reach : the value so far; a way may come near the mouse twice, and only values within reach count.
    """
    values = handle.values
    start, step = seen[:-1], np.diff(seen, axis=0)
    length = np.einsum("ij,ij->i", step, step)
    share = np.clip(np.einsum("ij,ij->i", mouse - start, step) / np.maximum(length, 1e-12), 0.0, 1.0)
    off = np.linalg.norm(start + share[:, None] * step - mouse, axis=1)
    found = values[:-1] + share * np.diff(values)
    off = np.where(np.abs(found - before) <= reach, off, np.inf)
    off = np.where(np.isfinite(off), off, np.inf)
    return float(found[int(off.argmin())]) if np.isfinite(off).any() else before
