"""The trimmed tube, against closed formulas."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from face.shapes import cylinder, plane, sphere
from scipy.integrate import dblquad
from sealwright.errors import DoesNotFit, OffTheScan
from sealwright.facepiece.quick_tube import TubeSettings, quick_tube

from .scenes import RADIUS_MM, port_at

SETTINGS = TubeSettings(diameter_mm=70.0, wall_mm=3.0, front_mm=30.0)
FRAME = port_at(0.0)  # origin on the skin, +Z out of the face
# Area of a regular polygon of 256 sides over that of its circle.
POLYGON = 256 / (2 * np.pi) * np.sin(2 * np.pi / 256)


@pytest.mark.costly
@pytest.mark.parametrize("stand_off", [0.0, 1.0, -0.5])
def test_volume_on_a_plane(stand_off: float) -> None:
    """pi (R2^2 - R1^2) h."""
    solid, rim = quick_tube(plane(-RADIUS_MM), FRAME, TubeSettings(70.0, 3.0, 30.0, stand_off))
    expected = np.pi * (35.0**2 - 32.0**2) * (30.0 - stand_off) * POLYGON
    # 1e-4 of the volume: 0.003 mm of height
    assert solid.volume == pytest.approx(expected, rel=1e-4)
    # 0.003 mm: bilinear between pixels 0.85 mm apart on radii that curve as 1 / cos
    assert rim[:, 1] == pytest.approx(np.full(len(rim), -RADIUS_MM), abs=3e-3)


def test_volume_on_a_sphere() -> None:
    """Integral of 2 pi r (H - sqrt(R^2 - r^2)) from R1 to R2, H the front end above the sphere's middle."""
    solid, _ = quick_tube(sphere(RADIUS_MM), FRAME, SETTINGS)
    r1, r2, high = 32.0, 35.0, RADIUS_MM + 30.0
    expected = np.pi * (r2**2 - r1**2) * high * POLYGON - 2 * np.pi / 3 * (
        (RADIUS_MM**2 - r1**2) ** 1.5 - (RADIUS_MM**2 - r2**2) ** 1.5
    )
    # 3e-4: the polygon's share of the dome, and chords of the skin of 0.001 mm
    assert solid.volume == pytest.approx(expected, rel=3e-4)


def test_volume_on_a_cylinder() -> None:
    """The same integrand on a cylinder, by numerical quadrature (scipy)."""
    solid, _ = quick_tube(cylinder(RADIUS_MM), FRAME, SETTINGS)
    expected, _ = dblquad(
        lambda r, turn: r * (RADIUS_MM + 30.0 - np.sqrt(RADIUS_MM**2 - (r * np.cos(turn)) ** 2)),
        0.0, 2 * np.pi, 32.0, 35.0,
    )  # fmt: skip
    assert solid.volume == pytest.approx(expected * POLYGON, rel=3e-4)


@pytest.mark.parametrize("face", [plane(-RADIUS_MM), sphere(RADIUS_MM), cylinder(RADIUS_MM)])
def test_tube_is_one_sound_ring(face) -> None:
    solid, _ = quick_tube(face, FRAME, SETTINGS)
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
    assert mesh.is_watertight
    assert mesh.body_count == 1
    assert mesh.euler_number == 0


def test_tube_past_the_border_of_the_scan_is_refused() -> None:
    narrow = sphere(RADIUS_MM, half=45)  # skin up to 32 mm from the middle
    with pytest.raises(OffTheScan) as refusal:
        quick_tube(narrow, FRAME, SETTINGS)
    assert refusal.value.where.point is not None
    assert "%" in refusal.value.what


def test_tube_that_ends_inside_the_face_is_refused() -> None:
    with pytest.raises(DoesNotFit, match="inside the face") as refusal:
        quick_tube(sphere(RADIUS_MM), port_at(-40.0), TubeSettings(30.0, 3.0, 10.0))
    assert "longer" in refusal.value.fix
