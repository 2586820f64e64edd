"""The picture of a part on its bed: angles by geometry, marks and legend in their places."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
from sealwright.mesh import trimesh_of
from sealwright.printing.plan import plan_print
from sealwright.printing.printer import PrinterSettings
from sealwright.render.pictures import render, view_of
from sealwright.report.print_scene import overhang_angles, print_scene
from sealwright.solids.boolean import Solid

M = manifold3d.Manifold


@pytest.mark.parametrize("angle", [0.0, 30.0, 45.0, 70.0])
def test_angle_of_a_cone_from_the_vertical(angle: float) -> None:
    wide = 5 + 10 * np.tan(np.radians(angle))
    raw = M.cylinder(10, 5, wide, 256).to_mesh64()
    cone = trimesh_of(np.array(raw.vert_properties), np.array(raw.tri_verts, dtype=np.int64))
    angles = overhang_angles(cone)
    on_bed = (cone.corners[:, :, 2] == 0).all(axis=1)
    side = np.abs(cone.face_normals[:, 2]) < 0.99
    # Facets of 256 round the circle tilt by up to 0.01 degrees more or less than the cone.
    assert np.allclose(angles[side], angle, atol=0.05)
    assert (angles[on_bed] == 0).all()


def test_scene_has_part_bed_marks_and_limit() -> None:
    part = M.cylinder(10, 5, 5, 48) + M.cylinder(2, 12, 12, 48).translate((0, 0, 10))
    printer = PrinterSettings(overhang_limit_deg=50.0)
    plan = plan_print(Solid("mushroom", part), "petg", printer, up=np.array([0.0, 0, 1]))
    scene = print_scene(plan, printer, "On the bed")
    assert scene.legend is not None and scene.legend.limits == (("limit", 50.0),)
    assert len(scene.shown) == 2 + len(plan.touch_up) and len(plan.touch_up) >= 2
    part_shown, bed = scene.shown[:2]
    assert part_shown.mesh.bounds[0, 2] == pytest.approx(0, abs=1e-9) == bed.mesh.bounds[1, 2]
    assert bed.mesh.volume > 0
    assert np.nanmax(part_shown.values) == pytest.approx(90.0)
    assert len(print_scene(plan, printer, bed=False).shown) == len(scene.shown) - 1
    # The underside of the cap is seen from below in the dark red end of the map.
    size = (120, 90)
    picture = render(scene := print_scene(plan, printer, bed=False), view_of(scene, "below", size), size)
    red = (picture[..., 0] > 40) & (picture[..., 0] > 2.5 * picture[..., 1].astype(float))
    assert red.sum() > 300
