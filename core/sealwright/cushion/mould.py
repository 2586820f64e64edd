"""A mould of two halves for a cast lip: one carries the skin side, the other the face of the hard band.

Both are rings with a flat base. They part along the lip's outer edge on the hard side and its inner edge on
the skin side, so that the outer wall belongs to the skin half and the inner wall to the other; beyond, they
share the very same triangles. Along the draw direction each surface is seen from above everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ..errors import DoesNotFit, Where
from ..facepiece.closed_curve import smoothed_round
from ..facepiece.shell import closed_profile
from ..mesh import Floats, TriMesh
from ..solids.boolean import Solid, difference, solid_of, union
from ..solids.primitives import frustum
from .lip import Lip

_RIM_MM = 14.0  # beside the cavity: for keys, and for clamps to bear on (common practice, no source)
_FLOOR_MM = 6.0  # below the deepest and above the highest place of the cavity
_KEY = (3.6, 2.6, 4.0)  # radius at the parting surface and at the end, height, mm
_KEY_ROOT_MM = 3.0
_KEY_GAP_MM = 0.2
_KEYS = 4
_POUR_RADIUS_MM = 4.0
_VENT_RADIUS_MM = 1.0
_VENT_APART_MM = 40.0
_INTO_CAVITY_MM = 0.6  # by which pour hole and vents reach into the cavity, where there is nothing to cut
_FLARE = 1.25  # a channel is so much wider where it begins
_ROOF_STEP_MM = 3.0  # places of the roof are no farther apart
_SEGMENTS = 32


@dataclass(frozen=True, eq=False)
class Mould:
    """A mould, as it prints: base on the bed, draw direction up, mm.

    Attributes
    ----------
    halves : "mould-a", the skin side, and "mould-b", turned over, with pour hole and vents.
    closed : the same, closed, in a frame whose Z is the draw direction; lip and both halves fit in it.
    lip : the lip in that frame.
    vents : how many.
    sprue_mm3 : volume of pour hole and vents.
    from_face : (4, 4) from the lip's own frame to "mould-a" as it prints.
    """

    halves: Mapping[str, Solid]
    closed: Mapping[str, Solid]
    lip: TriMesh
    vents: int
    sprue_mm3: float
    from_face: Floats


def mould_of(lip: Lip, shrink_percent: float = 0.0) -> Mould:
    """The mould of a lip, larger by what the silicone shrinks.

    Raises
    ------
    DoesNotFit : the lip's outline seen along the draw direction is not simple enough to open.
    BadSolid, BooleanFailed : a half would not be sound.
    """
    turn = _up_frame(lip.draw)
    scale = 1.0 / (1.0 - shrink_percent / 100.0)
    hard, skin = (scale * (grid - lip.hard.mean(axis=(0, 1))) @ turn.T for grid in (lip.hard, lip.skin))
    rims = _rims(hard[:, 0], skin[:, -1])
    bottom = min(skin[..., 2].min(), rims.inner[..., 2].min(), rims.outer[..., 2].min()) - _FLOOR_MM
    top = max(hard[..., 2].max(), rims.inner[..., 2].max(), rims.outer[..., 2].max()) + _FLOOR_MM
    below = [hard[:, :1], skin]
    above = [hard, skin[:, -1:]]
    lower = _half(below, rims, bottom, "mould-a")
    upper = _half(above, rims, top, "mould-b")
    keys = _keys(rims, hard[:, 0])
    lower = union("mould-a", lower, *(key for key, _ in keys))
    channels = _channels(hard, top)
    before = upper.volume
    upper = difference("mould-b", upper, *channels)
    sprue = before - upper.volume
    upper = difference("mould-b", upper, *(hole for _, hole in keys))
    flip = np.diag([1.0, -1.0, -1.0, 1.0])
    down, up = np.eye(4), np.eye(4)
    down[2, 3], up[2, 3] = -bottom, top
    from_face = down.copy()
    from_face[:3, :3] = scale * turn
    from_face[:3, 3] -= from_face[:3, :3] @ lip.hard.mean(axis=(0, 1))
    halves = {"mould-a": lower.moved(down), "mould-b": upper.moved(up @ flip)}
    core = closed_profile(np.concatenate([hard, skin[:, ::-1]], axis=1))
    return Mould(halves, {"mould-a": lower, "mould-b": upper}, core, len(channels) - 1, sprue, from_face)


def _up_frame(draw: Floats) -> Floats:
    """Rotation (3, 3) that takes the draw direction to Z and keeps the wearer's left to the right."""
    x = np.array([1.0, 0.0, 0.0]) - draw[0] * draw
    x = x / np.linalg.norm(x)
    return np.stack([x, np.cross(draw, x), draw])


@dataclass(frozen=True, eq=False)
class _Rims:
    """The parting surface beside the cavity: rows (n, m, 3), outer ones from outside, inner ones inwards."""

    outer: Floats
    inner: Floats


def _rims(outer_edge: Floats, inner_edge: Floats) -> _Rims:
    """Rims outside the outer edge and inside the inner edge, level across, evened out along."""
    middle = outer_edge[:, :2].mean(axis=0)
    made = []
    for edge, way in ((outer_edge, 1.0), (inner_edge, -1.0)):
        spoke = edge[:, :2] - middle
        radius = np.linalg.norm(spoke, axis=1)
        angle = np.unwrap(np.arctan2(spoke[:, 1], spoke[:, 0]))
        if np.diff(angle * np.sign(angle[-1] - angle[0])).min() <= 0.0:
            raise DoesNotFit(
                "Seen along its draw direction the lip turns back on itself; its mould could not be parted.",
                Where("cushion", key="recipe.cushion.kind"),
                "Take a foam strip, or a rounder seal line.",
            )
        away = np.array([0.25, 1.0]) * (_RIM_MM if way > 0 else min(_RIM_MM, 0.5 * float(radius.min())))
        even = smoothed_round(edge[:, 2], 6.0)
        rows = []
        for number, far in enumerate(away):
            place = middle + spoke * ((radius + way * far) / radius)[:, None]
            height = edge[:, 2] if number == 0 else even
            rows.append(np.column_stack([place, height]))
        made.append(np.stack(rows, axis=1))
    return _Rims(made[0][:, ::-1], made[1])


def _half(cavity: list[Floats], rims: _Rims, base: float, role: str) -> Solid:
    """A half as one profile per station: base, outer rim, cavity, inner rim, base."""
    outer, inner = rims.outer[:, :1].copy(), rims.inner[:, -1:].copy()
    outer[..., 2] = inner[..., 2] = base
    mesh = closed_profile(np.concatenate([outer, rims.outer, *cavity, rims.inner, inner], axis=1))
    return solid_of(mesh, role)


def _keys(rims: _Rims, edge: Floats) -> list[tuple[Solid, Solid]]:
    """Cones on the outer rim of the lower half, and the holes for them in the upper one."""
    wide, narrow, high = _KEY
    keys = []
    count = len(edge)
    for number in range(_KEYS):
        # Not evenly apart, so that the halves go together in one way only.
        station = int((number + (0.5 if number else 0.42)) * count / _KEYS)
        x, y, z = 0.45 * rims.outer[station, 0] + 0.55 * edge[station]
        slope = (narrow - wide) / high
        root = wide - slope * _KEY_ROOT_MM
        key = frustum(root, narrow, z - _KEY_ROOT_MM, z + high, "key", _SEGMENTS)
        gap = _KEY_GAP_MM
        hole = frustum(root + gap, narrow + gap, z - _KEY_ROOT_MM, z + high + gap, "key", _SEGMENTS)
        place = np.eye(4)
        place[:2, 3] = x, y
        keys.append((key.moved(place), hole.moved(place)))
    return keys


def _channels(hard: Floats, top: float) -> list[Solid]:
    """Pour hole at the lowest place of the hard face, vents at its high ones; up through the upper half."""
    crest = hard[:, hard.shape[1] // 2]
    height = smoothed_round(crest[:, 2], 2.0)
    lowest = int(np.argmin(height))
    step = float(np.linalg.norm(np.diff(crest, axis=0), axis=1).mean())
    reach = max(int(round(0.5 * _VENT_APART_MM / step)), 1)
    peaks = np.flatnonzero(ndimage.maximum_filter1d(height, 2 * reach + 1, mode="wrap") == height)
    even = np.arange(lowest, lowest + len(crest), 2 * reach) % len(crest)
    far = [i for i in even if _apart(int(i), np.append(peaks, lowest), len(crest)) >= reach]
    made = [_channel(hard, crest[lowest], _POUR_RADIUS_MM, top)]
    return made + [_channel(hard, crest[i], _VENT_RADIUS_MM, top) for i in [*peaks, *far]]


def _apart(station: int, others: np.ndarray, count: int) -> int:
    """Stations to the nearest of others round a closed line."""
    off = np.abs(others - station)
    return int(np.minimum(off, count - off).min())


def _channel(hard: Floats, at: Floats, radius: float, top: float) -> Solid:
    """A channel from the cavity to the outside, narrower upwards: the half comes off what has set in it.

    It begins under the lowest place of the cavity's roof (n, k, 3) across its width: on a steep roof a blind
    end would be a ledge that holds the lip.
    """
    place = np.eye(4)
    place[:2, 3] = at[:2]
    wide = _FLARE * radius
    beside = np.linalg.norm(hard[..., :2] - at[:2], axis=-1) < wide + _ROOF_STEP_MM
    low = min(float(at[2]), float(hard[..., 2][beside].min())) - _INTO_CAVITY_MM
    return frustum(wide, radius, low, top + 1.0, "channel", _SEGMENTS).moved(place)
