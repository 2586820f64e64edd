"""Room for mating parts and hands: refused where a lug, another port, the holder or the face takes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotFit, Where, plain_point
from ..solids.boolean import Solid

TOUCH_MM3 = 1.0  # rooms may graze: under a cubic millimetre nothing jams


@dataclass(frozen=True, eq=False)
class Room:
    """A space that must stay free, or a thing that takes space, placed in the face frame.

    Attributes
    ----------
    role : in the maker's words: "port 1", "upper left lug", "nose".
    solid : the space.
    key : dotted recipe key that moves it, or "" when it cannot be moved.
    """

    role: str
    solid: Solid
    key: str = ""


def require_free(rooms: Sequence[Room], obstacles: Sequence[Room]) -> None:
    """Refuse the first obstacle that stands in a room.

    Parameters
    ----------
    rooms : spaces that must stay free, such as the ``keep_clear`` of ports and holder.
    obstacles : what stands about: lugs, bosses, the face.

    Raises
    ------
    DoesNotFit : an obstacle takes more than 1 mm3 of a room; `where.point` is the middle of what they share.
    """
    for room in rooms:
        for obstacle in obstacles:
            _require_apart(room, obstacle)


def _require_apart(room: Room, obstacle: Room) -> None:
    if not _boxes_meet(room.solid, obstacle.solid):
        return
    shared = room.solid.native ^ obstacle.solid.native
    volume = float(shared.volume())
    if volume <= TOUCH_MM3:
        return
    box = np.array(shared.bounding_box()).reshape(2, 3)
    movable = [thing.key for thing in (room, obstacle) if thing.key]
    raise DoesNotFit(
        f"The {obstacle.role} takes {volume:.0f} mm3 of the room that the {room.role} needs.",
        Where(room.role, point=plain_point(box.mean(axis=0)), key=movable[0] if movable else ""),
        "Move them apart: change " + " or ".join(movable or ["the place of one of them"]) + ".",
    )


def _boxes_meet(one: Solid, two: Solid) -> bool:
    """Whether the axis-parallel boxes of two solids overlap."""
    a, b = (np.array(s.native.bounding_box()).reshape(2, 3) for s in (one, two))
    return bool(np.all(a[0] <= b[1]) and np.all(b[0] <= a[1]))
