"""The proposed seal line keeps off skin that overhangs: a steep hill on a sphere, and open faces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from face.shapes import sphere
from sealwright.face.surface import FaceSurface
from sealwright.facepiece.off_creases import off_creases
from sealwright.facepiece.seal_line import line_through

from .scenes import RADIUS_MM, RING_MM, circle

INNER_MM = 6.75
SMOOTHING_MM = 5.0


def with_hill(foot_mm: float, height_mm: float) -> FaceSurface:
    """The sphere with a hill on its left upper quarter that ends in a wall, foot_mm from the Y axis."""
    face = sphere(RADIUS_MM)
    x, _, z = np.moveaxis(face.points, -1, 0)
    hill = (np.hypot(x, z) < foot_mm) & (x > 0) & (z > 0)
    return replace(face, radii=face.radii + height_mm * hill)


def from_axis(points: np.ndarray) -> np.ndarray:
    return np.hypot(points[:, 0], points[:, 2])


def test_line_moves_out_beside_a_wall_and_only_there() -> None:
    foot = RING_MM - 5.0  # closer than the band's inner side and its margin of 1 mm
    face = with_hill(foot, 12.0)
    control = circle(face)
    moved = off_creases(face, control, SMOOTHING_MM, INNER_MM)
    line = line_through(face, moved, 192, SMOOTHING_MM).points
    beside = (line[:, 0] > 12.0) & (line[:, 2] > 12.0)
    # Along the sphere the band of 6.75 mm ends where it did in front view, less the cosine of the slant.
    inward = RADIUS_MM * np.sin(np.arcsin(from_axis(line[beside]) / RADIUS_MM) - INNER_MM / RADIUS_MM)
    assert inward.min() > foot
    away = (control[:, 0] < -12.0) | (control[:, 2] < -12.0)
    still = away & (np.roll(away, 1) & np.roll(away, -1))
    assert still.sum() >= 3
    assert moved[still] == pytest.approx(control[still], abs=1e-9)


def test_no_point_moves_further_than_it_may() -> None:
    face = with_hill(RING_MM + 4.0, 12.0)
    control = circle(face)
    moved = off_creases(face, control, SMOOTHING_MM, INNER_MM)
    # Walked on the blurred skin; measured straight it is never longer, but for the wall's own height.
    sideways = from_axis(moved) - from_axis(control)
    assert sideways.max() > 2.0
    assert sideways.max() <= 5.0


@pytest.mark.parametrize("height_mm", [0.0, 0.5])
def test_skin_without_a_wall_leaves_the_line_alone(height_mm: float) -> None:
    face = with_hill(RING_MM - 5.0, height_mm)
    control = circle(face)
    assert (off_creases(face, control, SMOOTHING_MM, INNER_MM) == control).all()
