"""The ends of the contact band: its outer edge rolls off the skin, its inner end turns into the wall."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from ..mesh import Floats
from .clearance_field import LEAST_LEAVE_DEG
from .closed_curve import smoothed_round
from .overhang import PrintDown

_LEAVE_ROOM_MM = 3.0  # height over the flattest wall that prints, for the bend from the fillet into it


def _unit(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-12))


def edge_roll(
    strip: Floats,
    normals: Floats,
    reach: Floats,
    lift: Floats,
    radius: float,
    roll_deg: float,
    thickness: float,
    sigma: float,
) -> tuple[Floats, Floats, Floats]:
    """Rows that roll the band's outer edge away from the skin.

    Parameters
    ----------
    strip, normals : (n, k, 3) the band on the skin, outer edge first, and its unit normals.
    reach, lift : (n, k) how far face side and outer side lie off it, mm.
    radius, roll_deg : of the roll.
    thickness : of the band, mm; the edge ends thinner.
    sigma : smoothing along the stations.

    Returns
    -------
    points (n, m, 3), outermost first; their reach and lift (n, m).
    """
    roll = np.radians(roll_deg)
    count = max(int(np.ceil(radius * roll / 1.0)), 3)
    angle = np.linspace(roll, roll / count, count)
    normal = _unit(smoothed_round(normals[:, 0], sigma))
    out = smoothed_round(strip[:, 0] - strip[:, 1], sigma)
    out = out - (out * normal).sum(-1, keepdims=True) * normal
    out = _unit(out)
    points = (
        strip[:, :1]
        + radius * np.sin(angle)[None, :, None] * out[:, None]
        + radius * (1 - np.cos(angle))[None, :, None] * normal[:, None]
    )
    fade = 1 - angle / roll
    thin = min(thickness, max(0.55 * thickness, 1.2), 0.75 * radius)
    rows_lift = thin + (lift[:, :1] - thin) * fade[None, :]
    return np.asarray(points), reach[:, :1] * fade[None, :], rows_lift


def fillet_into_wall(
    strip: Floats,
    normals: Floats,
    reach: Floats,
    lift: Floats,
    radius: float,
    leave_deg: float,
    wall: float,
    sigma: float,
    down: PrintDown | None,
) -> tuple[Floats, Floats, Floats, Floats]:
    """Rows of the fillet from the band's inner end into the wall.

    Parameters
    ----------
    strip, normals, reach, lift, sigma : as for `edge_roll`.
    radius, leave_deg : of the fillet, and its angle to the skin at the end.
    wall : thickness there, mm.
    down : how the body prints; the fillet then ends flatter where the wall needs the room, or where the
        chamber side would overhang.

    Returns
    -------
    points (n, m, 3), their reach and lift (n, m), and the unit direction (n, 3) in which the wall leaves.
    """
    count = max(int(np.ceil(radius * np.radians(leave_deg) / 1.2)), 3)
    normal = _unit(smoothed_round(normals[:, -1], sigma))
    inward = smoothed_round(strip[:, -1] - strip[:, -2], sigma)
    inward = inward - (inward * normal).sum(-1, keepdims=True) * normal
    inward = _unit(inward)
    leave = np.full(len(strip), np.radians(leave_deg))
    if down is not None:
        leave = _printable_leave(strip[:, -1], inward, normal, radius, leave_deg, sigma, down)
    share = np.linspace(1.0 / count, 1.0, count)
    points = _on_fillet(strip[:, -1], inward, normal, radius, leave[:, None] * share)
    direction = np.cos(leave)[:, None] * inward + np.sin(leave)[:, None] * normal
    rows_lift = wall + (lift[:, -1:] - wall) * (1 - share) ** 2
    return points, reach[:, -1:] * (1 - share) ** 2, rows_lift, direction


def _on_fillet(start: Floats, inward: Floats, normal: Floats, radius: float, angle: Floats) -> Floats:
    """Points (n, m, 3) at angles (n, m) round the fillets that begin at points (n, 3)."""
    turned = radius * np.sin(angle)[..., None] * inward[:, None]
    raised = radius * (1 - np.cos(angle))[..., None] * normal[:, None]
    return np.asarray(start[:, None] + turned + raised)


def _printable_leave(
    start: Floats,
    inward: Floats,
    normal: Floats,
    radius: float,
    leave_deg: float,
    sigma: float,
    down: PrintDown,
) -> Floats:
    """The largest angles (n,), rad, up to the wanted one at which fillet and wall print without supports."""
    steps = np.arange(leave_deg, min(LEAST_LEAVE_DEG, leave_deg) - 1e-9, -1.0)
    tried = np.radians(np.broadcast_to(steps, (len(start), len(steps))))
    room = down.room_mm(_on_fillet(start, inward, normal, radius, tried))
    out, up = inward @ down.down, normal @ down.down
    faces_bed = np.cos(tried) * up[:, None] - np.sin(tried) * out[:, None]
    good = (room >= _LEAVE_ROOM_MM) & (faces_bed >= -np.sin(down.limit_rad))
    first = np.where(good.any(axis=1), good.argmax(axis=1), len(steps) - 1)
    leave = np.radians(steps[first])
    reach = max(int(np.ceil(sigma)), 1)
    lowest = ndimage.minimum_filter1d(leave, 4 * reach + 1, mode="wrap")
    return smoothed_round(lowest, float(reach))
