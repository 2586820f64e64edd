"""The sculpted head all wearers share, as one smooth field: skull and neck, eyes, nose, mouth.

Shape by eye and by the proportions of standards.md section 1; no scan, no picture of a person behind it.
"""

from __future__ import annotations

import numpy as np
from sealwright.mesh import Floats

from .primitives import bump, carve, ellipsoid, fold, join, limb, ribbon, turned

CENTRE = np.array([0.0, 80.0, 45.0])
"""Every ray from here leaves the head once, mm."""

FLOOR_MM = -125.0
"""Height of the cut through the neck."""


def _skull(p: Floats, q: Floats) -> Floats:
    f = ellipsoid(p, (0, 98, 76), (75, 95, 78))  # cranium
    f = join(f, ellipsoid(p, (0, 60, 70), (61, 59, 60)), 30)  # forehead
    f = join(f, ellipsoid(p, (0, 62, 8), (61, 57, 60)), 30)  # midface
    f = join(f, ellipsoid(p, (0, 58, -32), (49, 50, 36)), 30)  # lower face and floor of the mouth
    f = join(f, limb(q, (40, 80, -34), (13, 24, -56), 11, 10), 22)  # jaw line
    f = join(f, ellipsoid(q, (38, 36, 19), (21, 20, 17)), 26)  # cheekbone
    f = join(f, limb(q, (50, 44, 25), (58, 80, 27), 8, 6), 28)  # zygomatic arch
    f = join(f, ellipsoid(p, (0, 34, -16), (36, 33, 32)), 20)  # upper jaw
    f = join(f, ellipsoid(p, (0, 17, -57), (17, 13, 13)), 16)  # chin
    return join(f, limb(p * [1.1, 1.0, 1.0], (0, 136, -190), (0, 106, -20), 57, 54), 24)  # neck


def _brows_and_eyes(f: Floats, q: Floats) -> Floats:
    brow = ribbon(q, [(0, 13, 60, 9), (16, 11.5, 59, 9), (32, 14.5, 61, 9), (44, 26, 57, 9)])
    f = join(f, brow, 16)
    f = carve(f, ellipsoid(q, (29, 3, 41), (17, 13, 11), turned(yaw_deg=15)), 16)  # socket
    f = join(f, ellipsoid(q, (31, 25.5, 40), (16, 13.5, 12.5), turned(yaw_deg=15)), 6)  # closed lids
    lashes = [
        (17, 14.5, 38, 0.3),
        (24, 11, 36, 0.5),
        (31, 11, 35, 0.6),
        (39, 14.5, 36, 0.5),
        (46, 22, 38.5, 0.3),
    ]
    crease = [
        (17, 12.5, 41, 0.3),
        (24, 11, 45.5, 0.6),
        (31, 11.5, 47.5, 0.8),
        (39, 15, 46.5, 0.6),
        (47, 24, 42, 0.3),
    ]
    return carve(carve(f, ribbon(q, lashes), 2), ribbon(q, crease), 3)


def _nose(p: Floats, q: Floats) -> Floats:
    f = limb(p, (0, 16, 56), (0, 0, 30), 8.5, 8)  # upper bridge
    f = join(f, limb(p, (0, 0, 30), (0, -10, 11), 8, 8.5), 10)  # lower bridge
    f = join(f, ellipsoid(p, (0, 12, 20), (15, 20, 30), turned(pitch_deg=25)), 10)  # side walls
    f = join(f, ellipsoid(p, (0, -10.5, 9), (9, 9.5, 8)), 6)  # tip
    f = join(f, ellipsoid(q, (11, 0.5, 6.5), (6.2, 11, 7.5), turned(yaw_deg=18)), 6)  # wings
    f = join(f, limb(p, (0, -11, 4), (0, 3, 3), 4, 4), 4)  # columella
    return carve(f, ellipsoid(q, (6.5, -4, -1.5), (3, 6.5, 3), turned(yaw_deg=18)), 2)  # nostrils, a hint


def _mouth(f: Floats, p: Floats, q: Floats) -> Floats:
    upper = [(0, 2.5, -17.2, 4.2), (5, 2.6, -16.4, 4.6), (14, 6, -18.5, 3.8), (25, 13, -21.8, 1.2)]
    lower = [(0, 4, -26.6, 5.2), (10, 6, -26, 4.8), (24, 13.5, -22.4, 1.2)]
    line = [(0, -2.2, -21.8, 0.6), (10, -0.5, -21.4, 0.6), (26, 10.5, -22, 0.6)]
    f = join(join(f, ribbon(q, upper), 5), ribbon(q, lower), 4)
    f = carve(f, ribbon(q, line), 3)
    f = f - bump(p, (0, 0, -8), (2.2, 8, 5), -1.2)  # philtrum
    return f - bump(p, (0, 4, -38), (16, 8, 4), -2)  # chin-lip groove


def head_field(p: Floats) -> Floats:
    """Field (n,) of the head at points (n, 3), mm: negative inside, smooth, mirror-symmetric in x."""
    q = fold(p)
    f = _brows_and_eyes(_skull(p, q), q)
    return _mouth(join(f, _nose(p, q), 8), p, q)
