"""The sculpted head all wearers share, as one smooth field: skull and neck, eyes, nose, mouth, ears.

Shape by eye and by the proportions of docs/standards section 1; no scan, no picture of a person behind it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from sealwright.mesh import Floats

from .head_warp import ramp
from .primitives import bump, carve, crease, ellipsoid, fold, join, limb, ribbon, turned

CENTRE = np.array([0.0, 77.0, 56.0])
"""Every ray from here leaves the head once, mm."""

FLOOR_MM = -125.0
"""Height of the cut through the neck."""


def _skull(p: Floats, q: Floats) -> Floats:
    f = ellipsoid(p, (0, 98, 76), (75, 95, 78))  # cranium
    f = join(f, ellipsoid(p, (0, 60, 70), (61, 59, 60)), 30)  # forehead
    f = join(f, ellipsoid(p, (0, 65, 8), (61, 58, 60)), 30)  # midface
    f = join(f, ellipsoid(p, (0, 58, -32), (49, 50, 37)), 30)  # lower face and floor of the mouth
    f = join(f, limb(q, (43, 94, -20), (10, 25, -56), 10, 10), 26)  # jaw line
    f = join(f, ellipsoid(q, (37, 36, 20), (21, 20, 17)), 28)  # cheekbone
    f = join(f, limb(q, (48, 44, 25), (57, 76, 26), 9, 7), 30)  # zygomatic arch
    f = join(f, ellipsoid(p, (0, 35, -16), (31, 34, 32)), 22)  # upper jaw
    f = join(f, ellipsoid(p, (0, 18.5, -57), (15, 13.5, 13)), 22)  # chin
    f = f - bump(q, (72, 62, 52), (18, 20, 10), -2.5)  # hollow of the temple
    return f - bump(q, (52, 48, -12), (20, 22, 16), -2.0)  # hollow below the cheekbone


def _neck(f: Floats, p: Floats, q: Floats) -> Floats:
    n = limb(p * [1.12, 1.0, 1.0], (0, 142, -200), (0, 106, -20), 60, 53)
    n = join(n, limb(q, (15, 84, -150), (46, 118, 5), 11, 10), 16)  # strap muscle
    n = join(n, ellipsoid(p, (0, 70, -97), (10, 8, 17)), 16)  # larynx, a hint
    return join(f, n, 24)


def _brows_and_eyes(f: Floats, p: Floats, q: Floats) -> Floats:
    brow = ribbon(q, [(0, 14, 60, 9), (14, 12, 58, 9), (30, 15, 60, 9), (44, 32, 58, 8), (52, 50, 54, 6)])
    f = join(f, brow, 18)
    f = carve(f, ellipsoid(q, (29, 3, 40), (17, 13, 11), turned(yaw_deg=15)), 16)  # socket
    f = join(f, ellipsoid(q, (31, 24.5, 39.5), (15.5, 13.5, 12), turned(yaw_deg=17)), 6)  # closed lids
    lashes = [
        (15, 38.7, 0.8),
        (19, 37.5, 1),
        (25, 35.2, 1),
        (32, 34.2, 1),
        (39, 35, 1),
        (46, 38.2, 1),
        (50, 39.5, 0.8),
    ]
    upper = [(15, 40, 0.8), (20, 44, 1), (26, 47.3, 1.1), (32, 48.2, 1.1), (40, 46.6, 1), (49, 40.5, 0.8)]
    lower = [(16, 37, 0.4), (24, 30.5, 0.5), (32, 28.6, 0.5), (44, 32.5, 0.4)]
    return f + crease(q, lashes, 0.8) + crease(q, upper, 1.2) + crease(q, lower, 1.8)


def _nose(f: Floats, p: Floats, q: Floats) -> Floats:
    n = limb(p, (0, 17, 57), (0, 0, 30), 8.5, 7.5)  # upper bridge
    n = join(n, limb(p, (0, 0, 30), (0, -10, 12), 7.5, 8), 10)  # lower bridge
    n = join(n, ellipsoid(p, (0, 13, 20), (14, 20, 30), turned(pitch_deg=25)), 12)  # side walls
    n = join(n, ellipsoid(p, (0, -9.5, 9), (9, 10, 8)), 8)  # tip
    n = join(n, ellipsoid(q, (6, -5, 6.5), (6, 10, 6.5), turned(yaw_deg=-25)), 8)  # between tip and wing
    n = join(n, ellipsoid(q, (12.0, 3, 5), (5.8, 9.5, 6.5), turned(yaw_deg=-6)), 9)  # wings
    n = join(n, limb(p, (0, -13, 4), (0, 3, 2.5), 3, 4), 5)  # columella
    n = carve(n, ellipsoid(q, (6.8, -3.5, -0.5), (2.9, 6.5, 4.5), turned(yaw_deg=-15)), 2.5)  # nostrils
    n = n + crease(q, [(2, 16.5, 0.3), (6, 17.3, 0.4), (10, 15.5, 0.2), (15, 12, 0.0)], 2.0, over=2)
    return join(f, n, 8)


def _mouth(f: Floats, p: Floats, q: Floats) -> Floats:
    upper = [(0, 2.6, -17.6, 4.6), (4.5, 2.4, -16.8, 4.8), (14, 5.5, -18.6, 4), (24, 13, -21.6, 1.5)]
    lower = [(0, 3.6, -27, 5.8), (9, 5.2, -26.4, 5.2), (23, 13.5, -22.6, 1.5)]
    line = [
        (0, -22.4, 1.6),
        (4, -22.1, 1.6),
        (9, -21.4, 1.6),
        (17, -21.9, 1.5),
        (24, -22.6, 1.4),
        (29, -23.4, 1.3),
    ]
    f = join(join(f, ribbon(q, upper), 3.5), ribbon(q, lower), 4)
    f = f + crease(q, line, 1.2)
    f = f - bump(q, (27, 12, -23), (3.5, 8, 5), -1.0)  # corner of the mouth
    f = f - bump(p, (0, 0, -8), (2.4, 8, 5), -1.4)  # philtrum
    f = f + crease(
        q, [(-26, 34, 0.3), (-16, 31, 0.7), (-4, 25.5, 0.9), (6, 20.5, 0.9), (12, 17, 0.4)], 2.6, over=2
    )
    return f - bump(p, (0, 4, -38), (16, 8, 4), -2)  # chin-lip groove


def _ears(f: Floats, p: Floats, q: Floats) -> Floats:
    turn = turned(pitch_deg=-14, yaw_deg=-25, roll_deg=14)
    local = (q - np.array([65.0, 107.0, 24.0])) @ turn
    local[:, 1] /= np.clip(1.0 + 0.008 * local[:, 2], 0.6, 1.4)  # narrower towards the lobe
    plate = ellipsoid(local, (0, 0, 0), (6, 16, 31))
    around = np.arctan2(local[:, 2] / 28, local[:, 1] / 14)
    rim = (np.hypot(local[:, 1] / 14, local[:, 2] / 28) - 1.0) * 18
    thick = 1.8 + 1.2 * np.cos(around - 1.2)
    e = join(plate, np.hypot(rim, local[:, 0] - 3.0) - thick, 6)
    e = carve(e, ellipsoid(local, (8.5, -4, -4), (6, 6, 11)), 6)
    return join(f, e, 9)


_LEAN_MM = 7.0
_Sculpting = Callable[[Floats, Floats, Floats], Floats]
# Lowest and highest corner (of the folded points) of the space each feature can change, mm.
_FEATURES: dict[str, tuple[_Sculpting, Floats]] = {
    "eyes": (_brows_and_eyes, np.array([[-9.0, -90, 5], [90, 92, 100]])),
    "nose": (_nose, np.array([[-9.0, -90, -30], [45, 55, 85]])),
    "mouth": (_mouth, np.array([[-9.0, -90, -75], [60, 75, 35]])),
    "ears": (_ears, np.array([[35.0, 70, -30], [190, 150, 80]])),
}


def _sculpted(p: Floats, features: tuple[str, ...]) -> Floats:
    p = p - _LEAN_MM * ramp(p[:, 2:], 2.0, 50.0, 8.0) * [
        0.0,
        1.0,
        0.0,
    ]  # the forehead stands back from the jaw
    q = fold(p)
    f = _neck(_skull(p, q), p, q)
    for name in features:
        sculpt, (low, high) = _FEATURES[name]
        near = ((q > low) & (q < high)).all(axis=1)
        if near.any():
            f[near] = sculpt(f[near], p[near], q[near])
    return f


def bare_field(p: Floats) -> Floats:
    """Field (n,) of the head without ears at points (n, 3), mm."""
    return _sculpted(p, ("eyes", "nose", "mouth"))


def head_field(p: Floats) -> Floats:
    """Field (n,) of the head at points (n, 3), mm: negative inside, smooth, mirror-symmetric in x."""
    return _sculpted(p, ("eyes", "nose", "mouth", "ears"))
