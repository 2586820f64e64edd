"""The steps that layers leave on a sloping face: how high, how far apart, and what a coating takes off them.

A face whose unit normal has the part n along the build direction is missed by a stack of layers of height h
by up to h |n|, square to the face: the cusp height of adaptive slicing (A. Dolenc and I. Makela, Slicing
procedures for layered manufacturing techniques, Computer-Aided Design 26(2), 1994; docs/standards V67).
"""

from __future__ import annotations

import numpy as np

from ..mesh import Floats

LEVELLING = 2.0
"""A coating of thickness c levels steps l apart by exp(-2 pi c / l), as a film that flows does; how well
paint does is an assumption."""

_LEVEL = 1e-9


def slope_of(normals: Floats, up: Floats) -> Floats:
    """How level a face lies: |n| along the build direction, 0 upright to 1 level.

    Parameters
    ----------
    normals : (..., 3) unit normals.
    up : (3,) build direction, of any length.
    """
    return np.asarray(np.clip(np.abs(normals @ (up / np.linalg.norm(up))), 0.0, 1.0))


def cusp_mm(slope: Floats, layer_mm: Floats | float) -> Floats:
    """Height of the steps square to the face, mm: h |n|."""
    return np.asarray(layer_mm * slope)


def apart_mm(slope: Floats, layer_mm: Floats | float) -> Floats:
    """Distance of neighbouring steps along the face, mm: h / sqrt(1 - n^2), the largest where it is level."""
    return np.asarray(layer_mm / np.sqrt(np.maximum(1.0 - slope**2, _LEVEL)))


def tread_mm(slope: Floats, layer_mm: Floats | float) -> Floats:
    """Width of a step along the bed, mm: h |n| / sqrt(1 - n^2)."""
    return np.asarray(slope * apart_mm(slope, layer_mm))


def levelled(apart: Floats, coating_mm: float) -> Floats:
    """Share of the height of steps ``apart`` mm from each other that a coating leaves."""
    return np.asarray(np.exp(-LEVELLING * np.pi * coating_mm / apart))
