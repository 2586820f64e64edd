"""The ends of the contact band: its outer edge rolls off the skin, its inner end turns into the wall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ..mesh import Floats
from .clearance_field import LEAST_LEAVE_DEG
from .closed_curve import smoothed_round
from .overhang import PrintDown

_LEAVE_ROOM_MM = 3.0  # height over the flattest wall that prints, for the bend from the fillet into it


def _unit(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-12))


@dataclass(frozen=True, eq=False)
class Strip:
    """The rows of a band that touch the skin: stations (n) by rows (k), outer edge first, mm.

    Attributes
    ----------
    points, normals : (n, k, 3) places at the stand-off, and unit normals away from the skin.
    reach, lift : (n, k) how far the face side lies below them and the outer side above.
    sigma : smoothing along the stations.
    """

    points: Floats
    normals: Floats
    reach: Floats
    lift: Floats
    sigma: float


@dataclass(frozen=True)
class Fillet:
    """How the band turns into the wall.

    Attributes
    ----------
    radius_mm, leave_deg : of the fillet, and its angle to the skin at the end.
    down : how the body prints; the fillet then ends flatter where the wall needs the room, or where the
        chamber side would overhang.
    """

    radius_mm: float
    leave_deg: float
    down: PrintDown | None = None


@dataclass(frozen=True, eq=False)
class End:
    """Rows that go on from a strip: points (n, m, 3), and how far face and outer side lie off them (n, m)."""

    points: Floats
    reach: Floats
    lift: Floats


def edge_roll(strip: Strip, radius: float, roll_deg: float, thickness: float) -> End:
    """Rows, outermost first, that roll the band's outer edge away from the skin.

    Parameters
    ----------
    strip : the rows on the skin.
    radius, roll_deg : of the roll, mm and degrees.
    thickness : of the band, mm; the edge ends thinner.
    """
    roll = np.radians(roll_deg)
    count = max(int(np.ceil(radius * roll / 1.0)), 3)
    angle = np.linspace(roll, roll / count, count)
    normal = _unit(smoothed_round(strip.normals[:, 0], strip.sigma))
    out = smoothed_round(strip.points[:, 0] - strip.points[:, 1], strip.sigma)
    out = out - (out * normal).sum(-1, keepdims=True) * normal
    out = _unit(out)
    points = (
        strip.points[:, :1]
        + radius * np.sin(angle)[None, :, None] * out[:, None]
        + radius * (1 - np.cos(angle))[None, :, None] * normal[:, None]
    )
    fade = 1 - angle / roll
    thin = min(thickness, max(0.55 * thickness, 1.2), 0.75 * radius)
    rows_lift = thin + (strip.lift[:, :1] - thin) * fade[None, :]
    return End(np.asarray(points), strip.reach[:, :1] * fade[None, :], rows_lift)


def fillet_into_wall(strip: Strip, fillet: Fillet, wall: float) -> tuple[End, Floats]:
    """Rows of the fillet from the band's inner end into the wall, and the way (n, 3) the wall leaves.

    Parameters
    ----------
    strip, fillet : the rows on the skin, and how they turn off it.
    wall : thickness at the end, mm.
    """
    count = max(int(np.ceil(fillet.radius_mm * np.radians(fillet.leave_deg) / 1.2)), 3)
    normal = _unit(smoothed_round(strip.normals[:, -1], strip.sigma))
    inward = smoothed_round(strip.points[:, -1] - strip.points[:, -2], strip.sigma)
    inward = inward - (inward * normal).sum(-1, keepdims=True) * normal
    inward = _unit(inward)
    leave = np.full(len(strip.points), np.radians(fillet.leave_deg))
    if fillet.down is not None:
        leave = _printable_leave(strip, inward, normal, fillet, fillet.down)
    share = np.linspace(1.0 / count, 1.0, count)
    points = _on_fillet(strip.points[:, -1], inward, normal, fillet.radius_mm, leave[:, None] * share)
    direction = np.cos(leave)[:, None] * inward + np.sin(leave)[:, None] * normal
    rows_lift = wall + (strip.lift[:, -1:] - wall) * (1 - share) ** 2
    return End(points, strip.reach[:, -1:] * (1 - share) ** 2, rows_lift), direction


def _on_fillet(start: Floats, inward: Floats, normal: Floats, radius: float, angle: Floats) -> Floats:
    """Points (n, m, 3) at angles (n, m) round the fillets that begin at points (n, 3)."""
    turned = radius * np.sin(angle)[..., None] * inward[:, None]
    raised = radius * (1 - np.cos(angle))[..., None] * normal[:, None]
    return np.asarray(start[:, None] + turned + raised)


def _printable_leave(strip: Strip, inward: Floats, normal: Floats, fillet: Fillet, down: PrintDown) -> Floats:
    """The largest angles (n,), rad, up to the wanted one at which fillet and wall print without supports."""
    start, leave_deg = strip.points[:, -1], fillet.leave_deg
    steps = np.arange(leave_deg, min(LEAST_LEAVE_DEG, leave_deg) - 1e-9, -1.0)
    tried = np.radians(np.broadcast_to(steps, (len(start), len(steps))))
    room = down.room_mm(_on_fillet(start, inward, normal, fillet.radius_mm, tried))
    out, up = inward @ down.down, normal @ down.down
    faces_bed = np.cos(tried) * up[:, None] - np.sin(tried) * out[:, None]
    good = (room >= _LEAVE_ROOM_MM) & (faces_bed >= -np.sin(down.limit_rad))
    first = np.where(good.any(axis=1), good.argmax(axis=1), len(steps) - 1)
    leave = np.radians(steps[first])
    reach = max(int(np.ceil(strip.sigma)), 1)
    lowest = ndimage.minimum_filter1d(leave, 4 * reach + 1, mode="wrap")
    return smoothed_round(lowest, float(reach))
