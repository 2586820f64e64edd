"""Masses that hang: centre by trimesh, moment by hand, line of sight over a box by plain geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from bare import bare_recipe
from sealwright.checks.sight import sight_below_deg
from sealwright.cushion.settings import cushion_of
from sealwright.designing.sketch import sketch
from sealwright.physics.statics import HungPart, hanging_of
from sealwright.predict.hanging import centroid, hanging
from sealwright.recipe import Recipe
from sealwright.solids.boolean import union
from sealwright.solids.primitives import cuboid, cylinder

from .wearers import invented


def test_centroid_is_that_of_another_library() -> None:
    solid = union("thing", cuboid((-5, -60, -20), (9, -30, 4), "box"), cylinder(6.0, 0.0, 40.0, "rod"))
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
    assert centroid(cuboid((-5, -60, -20), (9, -30, 4), "box").mesh) == pytest.approx([2, -45, -8])
    assert centroid(solid.mesh) == pytest.approx(mesh.center_mass, abs=1e-9)


def test_moment_by_hand() -> None:
    # 40 g at 60 mm and 20 g at 30 mm before a bridge at y = 5: (40 x 65 + 20 x 35) x 9.80665e-3 N mm
    far, near = (
        HungPart(name=name, mass_g=grams, centre_mm=np.array([0.0, y, 0.0]), taken_from="hand")
        for name, grams, y in (("far", 40.0, -60.0), ("near", 20.0, -30.0))
    )
    found = hanging_of([far, near], np.array([0.0, 5.0, 40.0]))
    assert found.mass_g == 60.0
    assert found.centre_mm == pytest.approx([0.0, -50.0, 0.0])
    assert found.moment_nmm == pytest.approx(32.361945)


@pytest.mark.heavy
def test_cushion_hangs_too() -> None:
    """A strip as long as the line and as wide as the band, its middle half its thickness off the band."""
    design = sketch(invented(), Recipe())
    soft, band = cushion_of(design.recipe.cushion), design.band
    found = next(part for part in hanging(design).parts if part.name == "cushion")
    density = soft.row["density_g_cm3"]["value"] * 1e-3
    line = design.seal_line.points
    length = np.linalg.norm(np.roll(line, -1, axis=0) - line, axis=1).sum()
    # The hard face bends away from the skin: along it the strip is a few per cent longer than along the line.
    strip = length * design.recipe.band.width_mm * soft.thickness_mm * density
    assert strip < found.mass_g < 1.15 * strip
    hard = band.grid[:, band.contact].mean(axis=(0, 1))
    assert 0.0 < found.centre_mm[1] - hard[1] < soft.seated_mm  # the skin lies behind the band
    bare = hanging(sketch(invented(), bare_recipe())).parts
    assert "cushion" not in {part.name for part in bare}


def test_sight_over_the_front_upper_edge_of_a_box() -> None:
    # The eye is 30 mm above the top: the far edge, 80 mm ahead, bounds the sight.
    box = cuboid((-50, -80, -40), (50, -40, 10), "box")
    eye = np.array([31.0, 0.0, 40.0])
    assert sight_below_deg([box.mesh], eye) == pytest.approx(math.degrees(math.atan2(30.0, 80.0)))
    assert sight_below_deg([box.mesh], np.array([60.0, 0.0, 40.0])) == 90.0
