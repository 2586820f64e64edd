"""Lugs: sound, rounded, slot as wide as the webbing needs, printable, stress by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from sealwright.errors import BadRecipe
from sealwright.hardware.lug_wall import HEIGHTS_MM, NOTHING_MM, PLACES, LugWall, across_mm, plane_wall
from sealwright.hardware.lugs import (
    BAR_BOTTOM_MM,
    EDGE_MM,
    bar_middle,
    bar_modulus,
    half_span,
    lug_extent,
    make_lug,
)
from sealwright.hardware.options import LugSettings
from sealwright.solids.boolean import Solid, shared_volume, solid_of, union
from sealwright.solids.primitives import cuboid, lofted
from sealwright.tables import table

from .gauges import ALLOWANCE, require_printable_solid

SETTINGS = LugSettings()
LUG = make_lug(SETTINGS, ALLOWANCE)
LEANING = make_lug(SETTINGS, ALLOWANCE, plane_wall(25.0, (1.5, 2.5)))


def slab(lean_deg: float, thick_mm: float = 6.0) -> Solid:
    """A plane piece of wall whose outer side passes through the origin of the lug."""
    shift = math.tan(math.radians(lean_deg))
    outline = [
        np.array([(-30.0, y_shift - thick_mm), (30.0, y_shift - thick_mm), (30.0, y_shift), (-30.0, y_shift)])
        for y_shift in (-40.0 * shift, 20.0 * shift)
    ]
    wall = lofted(outline, [-40.0, 20.0], "wall")  # x, z over y
    turned = np.array([[1.0, 0, 0, 0], [0, 0, 1.0, 0], [0, 1.0, 0, 0], [0, 0, 0, 1.0]])
    mesh = wall.mesh.moved(turned)
    return solid_of(mesh if mesh.volume > 0 else mesh.flipped(), "wall")


def on_wall(lug: Solid, lean_deg: float) -> Solid:
    return union("lug on its wall", lug, slab(lean_deg))


def test_lug_is_one_sound_piece_and_makes_one_slot_with_the_wall() -> None:
    require_printable_solid(LUG.solid)
    require_printable_solid(LEANING.solid)
    for lean in (0.0, 15.0, 30.0):
        lug = make_lug(SETTINGS, ALLOWANCE, plane_wall(lean))
        assert on_wall(lug.solid, lean).genus == 1


def test_webbing_goes_through_the_slot() -> None:
    # A strip of the webbing's width and thickness plus 1 mm, up along the wall behind the bar, 60 mm long.
    for lean in (0.0, 25.0):
        lug = make_lug(SETTINGS, ALLOWANCE, plane_wall(lean))
        half, thick = 0.5 * SETTINGS.strap_width_mm + 0.5, SETTINGS.strap_thickness_mm + 1.0
        strip = cuboid((-half, -30.0, 0.05), (half, 30.0, 0.05 + thick), "webbing")
        frame = np.eye(4)
        c, s = math.cos(math.radians(lean)), math.sin(math.radians(lean))
        frame[1:3, 1:3] = [[c, -s], [s, c]]
        assert shared_volume(strip.moved(frame), on_wall(lug.solid, lean)) == 0.0


def test_slot_follows_the_practice_in_the_table() -> None:
    rules = table("straps")
    low, high = rules["slot_longer_than_width_mm"]["usual"]
    assert low <= LUG.facts.lug_slot_length_mm - SETTINGS.strap_width_mm <= high
    for key in ("lug_bar_height_mm", "lug_bar_width_mm", "lug_fin_thickness_mm"):
        assert getattr(LUG.facts, key) >= rules["least_wall_mm"]["value"]


@pytest.mark.parametrize("lean", [0.0, 20.0, 30.0])
def test_nothing_but_the_level_underside_of_the_bar_hangs_over(lean: float) -> None:
    """Up in the print is +Y. What overhangs by more than 45 degrees outside the wall is the bar's underside.

    1 degree: the balls have flat facets of 15 degrees, and the planes that touch them are exact.
    """
    lug = make_lug(SETTINGS, ALLOWANCE, plane_wall(lean))
    mesh = on_wall(lug.solid, lean).mesh
    steep = mesh.face_normals[:, 1] < -math.sin(math.radians(46.0))
    middle = mesh.corners.mean(axis=1)
    off = middle[:, 2] - math.tan(math.radians(lean)) * middle[:, 1] > 0.05
    inner = half_span(SETTINGS, ALLOWANCE) - 0.5 * SETTINGS.bar_mm
    # the rounded edges of the fins widen the bridge by their radius
    bar = (np.abs(middle[:, 0]) < inner + EDGE_MM) & (np.abs(middle[:, 1] - BAR_BOTTOM_MM) < EDGE_MM)
    assert mesh.face_areas[steep & off & ~bar].sum() < 0.05
    assert mesh.face_areas[steep & off & bar].sum() > 10.0


def test_underside_of_the_bar_is_level_and_bridges_no_further_than_the_slot() -> None:
    mesh = LEANING.solid.mesh
    flat = mesh.face_normals[:, 1] < -0.9999
    corners = mesh.corners[flat].reshape(-1, 3)
    assert np.ptp(corners[:, 1]) < 1e-9
    assert LEANING.facts.lug_bridge_mm == pytest.approx(16.5)


def test_every_edge_outside_the_wall_is_rounded() -> None:
    # No two triangles meet at a sharp outer edge: balls of 24 meridians bend by 15 degrees from facet to
    # facet.
    for lug, lean in ((LUG, 0.0), (LEANING, 25.0)):
        mesh = lug.solid.mesh
        shape = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
        ends = mesh.vertices[shape.face_adjacency_edges]
        length = np.linalg.norm(np.diff(ends, axis=1)[:, 0], axis=1)
        off = (ends[..., 2] - math.tan(math.radians(lean)) * ends[..., 1]).min(axis=1) > 0.3
        angle = shape.face_adjacency_angles[shape.face_adjacency_convex & off & (length > 0.3)]
        assert np.degrees(angle.max()) < 31.0


def test_stress_by_hand() -> None:
    # bar: F L / 8 over the modulus with F = 50 N, L = 15 + 1.5 + 5 = 21.5 mm; a full rectangle of 4.76 x 4.26
    # mm has 4.26 * 4.76^2 / 6 = 16.09 mm3, its rounded corners of 1.38 mm take off 18 % (next test)
    assert 50 * 21.5 / 8 / 16.09 < LUG.facts.lug_bar_stress_mpa < 50 * 21.5 / 8 / 16.09 * 1.3
    assert LUG.facts.lug_bar_stress_mpa == pytest.approx(134.375 / bar_modulus(5.0, 4.5), rel=1e-12)
    # fin at the wall: 25 N at 5.75 mm on 5 x 13 mm: 25 * 5.75 * 6 / (5 * 169) = 1.02, shear 1.73 * 25 / 65 =
    # 0.67 MPa
    assert LUG.facts.lug_fin_stress_mpa >= 1.69
    # PETG 45 MPa along the layers, half of it across them (from memory)
    assert LUG.facts.lug_strength_across_layers_mpa == pytest.approx(22.5)
    assert LUG.facts.lug_safety_factor >= 2.0
    assert LUG.facts.lug_bears_n > table("straps")["pull_n"]["value"]
    assert LUG.remarks == ()


def test_modulus_of_the_bar_is_that_of_its_section() -> None:
    """Second moment of area of the bar's section, a polygon that trimesh cuts, by shoelace sums."""
    mesh = LUG.solid.mesh
    shape = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    section = shape.section(plane_origin=[0.0, 0.0, 0.0], plane_normal=[1.0, 0.0, 0.0])
    (ring,) = section.discrete
    y, z = ring[:-1, 1] - 0.5 * (ring[:, 1].min() + ring[:, 1].max()), ring[:-1, 2]
    y1, z1 = np.roll(y, -1), np.roll(z, -1)
    turn = y * z1 - y1 * z
    inertia = abs((turn * (y**2 + y * y1 + y1**2)).sum() / 12.0)
    # 3 %: the corners are polygons of 15 degrees inside the arcs
    assert bar_modulus(5.0, 4.5) == pytest.approx(inertia / (0.5 * np.ptp(y)), rel=0.03)


def test_strap_pulls_in_the_middle_of_the_bar() -> None:
    middle = bar_middle(SETTINGS, ALLOWANCE)
    near = LUG.solid.mesh.vertices[np.abs(LUG.solid.mesh.vertices[:, 0]) < 5.0]
    if len(near) == 0:  # the bar has no vertices between its ends
        section = trimesh.Trimesh(LUG.solid.mesh.vertices, LUG.solid.mesh.faces).section([1, 0, 0], [0, 0, 0])
        near = section.vertices
    assert middle[1:] == pytest.approx(0.5 * (near[:, 1:].min(axis=0) + near[:, 1:].max(axis=0)), abs=0.01)


def test_weak_wide_and_leaning_lugs_are_remarked() -> None:
    weak = make_lug(replace(SETTINGS, bar_mm=4.0, pull_n=100.0), ALLOWANCE)
    assert weak.remarks[0].level == "risk"
    wide = make_lug(replace(SETTINGS, strap_width_mm=25.0, bar_mm=7.0), ALLOWANCE)
    assert "bridges 26.5 mm" in wide.remarks[0].text
    steep = make_lug(SETTINGS, ALLOWANCE, plane_wall(43.0))
    assert "leans 43 degrees" in steep.remarks[0].text


def test_value_out_of_range_is_refused() -> None:
    with pytest.raises(BadRecipe) as caught:
        make_lug(replace(SETTINGS, bar_mm=1.0), ALLOWANCE)
    assert caught.value.where.key == "lug.bar_mm"


def test_roots_follow_a_wall_that_falls_away() -> None:
    """Every root lies the wanted 1.5 mm under the wall at its own place, all along the height of the fin."""
    places = across_mm(half_span(SETTINGS, ALLOWANCE), SETTINGS.bar_mm)
    fall = 0.02 * places**2
    heights = np.asarray(HEIGHTS_MM)
    wall = LugWall(tuple(tuple((0.3 * heights + 0.004 * heights**2 - f).tolist()) for f in fall))
    lug = make_lug(SETTINGS, ALLOWANCE, wall)
    require_printable_solid(lug.solid)
    shape = trimesh.Trimesh(lug.solid.mesh.vertices, lug.solid.mesh.faces, process=False)
    for place in (0, 1, PLACES - 2, PLACES - 1):
        inward = (
            np.sign(places[PLACES // 2] - places[place])
            if place in (0, PLACES - 1)
            else np.sign(places[place])
        )
        x = places[place] + 0.7 * inward
        for y in (-6.0, 0.0, 4.0):
            surface = float(wall.at(place, y))
            assert shape.contains([[x, y, surface - 1.2]])[0], (place, y)


def test_bar_stands_off_the_wall_by_the_opening() -> None:
    for lean in (0.0, 20.0, 30.0):
        lug = make_lug(SETTINGS, ALLOWANCE, plane_wall(lean)).solid.mesh
        normal = np.array([0.0, -math.sin(math.radians(lean)), math.cos(math.radians(lean))])
        section = trimesh.Trimesh(lug.vertices, lug.faces).section([1, 0, 0], [0, 0, 0])
        # the bar is thinner by its inset of 0.12 mm; 0.05 mm: facets
        assert (section.vertices @ normal).min() == pytest.approx(3.5 + 0.12, abs=0.05)


def test_extents_meet_where_the_lugs_do() -> None:
    """Two lugs that come nearer beside each other, one leaning: their solids tell when they share room."""
    wall = plane_wall(25.0, (1.5, 2.5))
    first = lug_extent(SETTINGS, ALLOWANCE, plane_wall())
    second = lug_extent(SETTINGS, ALLOWANCE, wall)
    frame = np.eye(4)
    frame[:3, :3] = [
        [math.cos(0.2), 0.0, -math.sin(0.2)],
        [0.0, 1.0, 0.0],
        [math.sin(0.2), 0.0, math.cos(0.2)],
    ]
    for apart in (10.0, 18.0, 26.0, 32.0, 40.0):
        frame[0, 3] = apart
        shared = shared_volume(LUG.solid, LEANING.solid.moved(frame))
        there = second.points() @ frame[:3, :3].T + frame[:3, 3]
        back = (first.points() - frame[:3, 3]) @ frame[:3, :3]
        entered = max(first.entered_mm(there), second.entered_mm(back))
        if shared > 1.0:
            assert entered > 0.0, apart
        if entered == 0.0:
            assert shared < 0.1, apart
        if apart == 40.0:
            assert entered == 0.0  # each is 26.5 mm wide


def test_lean_of_a_wall_that_ends_under_the_lug() -> None:
    whole = plane_wall(30.0)
    short = LugWall(tuple(tuple(np.where(np.array(HEIGHTS_MM) < -5.0, NOTHING_MM, z)) for z in whole.z_mm))
    assert whole.lean_deg == pytest.approx(30.0)
    assert short.lean_deg == pytest.approx(30.0)  # what is left of it leans as before
    nothing = LugWall(tuple((NOTHING_MM,) * len(HEIGHTS_MM) for _ in whole.z_mm))
    assert nothing.lean_deg == 0.0
