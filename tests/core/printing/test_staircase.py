"""Steps of the layers against planes and spheres of known slope, and stacks that other libraries cut."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

import igl
import numpy as np
import pytest
import trimesh
from bare import bare_recipe
from main_job.wearers import marlo_prepared
from sealwright.designing.contact_face import contact_face_of
from sealwright.designing.design import Design, make_design
from sealwright.jobs.print_job import plan_part, print_settings
from sealwright.limits import limit
from sealwright.printing.layer_advice import layer_advice
from sealwright.printing.plan import plan_print
from sealwright.printing.printer import PrinterSettings
from sealwright.printing.staircase import apart_mm, cusp_mm, levelled, slope_of, tread_mm
from sealwright.progress import run_to_end
from sealwright.solids.primitives import cuboid

LAYER_MM = 0.2
UP = np.array([0.0, 0.0, 1.0])
PRINTER = PrinterSettings()


def stack_corners(mesh: trimesh.Trimesh, layer_mm: float, heights: np.ndarray) -> np.ndarray:
    """Upper and lower edges (m, 2, 3) of layers: trimesh cuts them at their middles, shapely keeps them."""
    cuts = mesh.section_multiplane([0.0, 0.0, 0.0], UP, heights)
    corners = []
    for height, cut in zip(heights, cuts, strict=True):
        for ring in cut.polygons_closed:
            outline = ring.exterior.segmentize(2.0).coords[:-1]
            xyz = trimesh.transform_points([[*xy, 0.0] for xy in outline], cut.metadata["to_3D"])
            rise = np.array([0.0, 0.0, 0.5 * layer_mm])
            corners.append(np.stack([xyz + rise, xyz - rise], axis=1))
        assert abs(corners[-1][:, :, 2].mean() - height) < 1e-6
    return np.concatenate(corners)


@pytest.mark.parametrize("slope_deg", [15.0, 30.0, 45.0, 60.0, 80.0])
def test_steps_of_a_slope_are_those_of_a_cut_stack(slope_deg: float) -> None:
    # A wedge whose slope rises by the angle: its normal is (-sin, 0, cos), the cusp height h cos.
    lean = np.radians(slope_deg)
    width = 10.0 / np.tan(lean)
    solid = [[0, 0, 0], [width, 0, 0], [width, 20, 0], [0, 20, 0], [width, 0, 10], [width, 20, 10]]
    wedge = trimesh.Trimesh(solid).convex_hull
    normal = np.array([-np.sin(lean), 0.0, np.cos(lean)])
    corners = stack_corners(wedge, LAYER_MM, np.arange(0.1, 9.9, LAYER_MM))
    upper, lower = corners[:, 0], corners[:, 1]
    on_slope = np.abs((0.5 * (upper + lower)) @ normal) < 1e-6
    off = corners[on_slope] @ normal
    slope = slope_of(normal, UP)
    assert np.ptp(off) == pytest.approx(float(cusp_mm(slope, LAYER_MM)), abs=1e-9)
    assert float(cusp_mm(slope, LAYER_MM)) == pytest.approx(LAYER_MM * np.cos(lean), rel=1e-12)
    # Neighbouring layers begin a tread apart along the bed, and so far apart along the slope.
    begins = np.unique(np.round(corners[on_slope][:, 0, 0], 9))
    assert np.diff(begins) == pytest.approx(float(tread_mm(slope, LAYER_MM)), rel=1e-6)
    assert float(tread_mm(slope, LAYER_MM)) == pytest.approx(LAYER_MM / np.tan(lean), rel=1e-9)
    assert float(apart_mm(slope, LAYER_MM)) == pytest.approx(LAYER_MM / np.sin(lean), rel=1e-9)


def test_steps_of_a_sphere_are_those_of_a_cut_stack() -> None:
    radius = 40.0
    ball = trimesh.creation.icosphere(subdivisions=6, radius=radius)
    for height in (10.0, 20.0, 30.0, 36.0):
        upper, lower = stack_corners(ball, LAYER_MM, np.array([height]))[:, :, :].swapaxes(0, 1)
        off = np.linalg.norm(upper, axis=1) - np.linalg.norm(lower, axis=1)
        # n = z / R on a sphere; chords of the ball lie 0.005 mm inside, alike for both edges of a layer.
        wanted = cusp_mm(
            slope_of(np.array([0.0, np.sqrt(1 - (height / radius) ** 2), height / radius]), UP), LAYER_MM
        )
        assert off == pytest.approx(float(wanted), abs=2e-4)


def test_a_coating_levels_narrow_steps_more() -> None:
    assert levelled(np.array([0.2, 0.5, 2.0]), 0.0) == pytest.approx([1.0, 1.0, 1.0])
    left = levelled(np.array([0.2, 0.5, 2.0]), 0.1)
    assert left[0] < left[1] < left[2] == pytest.approx(np.exp(-0.1 * np.pi), rel=1e-12)


def cap(radius: float, top: float) -> tuple[np.ndarray, np.ndarray]:
    """Heights and slopes of a sphere's cap, spread evenly over its area (equal heights, Archimedes)."""
    heights = np.linspace(0.0, top, 20_001)
    return heights, heights / radius


def test_advice_for_a_sphere_follows_the_formula() -> None:
    heights, slopes = cap(50.0, 50.0)
    volumes = np.full(250, 20.0)
    advice = layer_advice(heights, slopes, 50.0, volumes, PRINTER)
    most = limit("contact_cusp").value
    ranges = advice.ranges
    assert ranges[0].from_mm == 0.0 and ranges[-1].to_mm == 50.0
    assert all(a.to_mm == b.from_mm for a, b in itertools.pairwise(ranges))
    for one in ranges:
        assert one.layer_mm <= PRINTER.layer_mm and one.to_mm - one.from_mm >= 5.0
        assert (
            one.layer_mm * one.to_mm / 50.0 <= most * 1.02
        )  # 95 % of each millimetre: the last of it may be over
        assert one.layers == int(np.ceil((one.to_mm - one.from_mm) / one.layer_mm - 1e-6))
    # n = z / R: layers of 0.2 do up to z = 25, of 0.16 to 31.25, of 0.12 to 41.7; whole mm, less 2 for the
    # neighbours.
    ends = {one.layer_mm: one.to_mm for one in ranges}
    assert ends == pytest.approx({0.2: 23.0, 0.16: 29.0, 0.12: 39.0, 0.08: 50.0}, abs=1.01)
    assert advice.over_share == 0.0 and advice.layers == sum(one.layers for one in ranges)
    assert advice.even_layers == 250 and advice.time_min > advice.even_time_min


def test_an_upright_face_keeps_its_layers_and_a_coarse_nozzle_cannot() -> None:
    heights, volumes = np.linspace(0.0, 20.0, 2001), np.full(100, 20.0)
    upright = layer_advice(heights, np.full(2001, 0.3), 20.0, volumes, PRINTER)
    assert [(r.layer_mm, r.layers) for r in upright.ranges] == [(0.2, 100)]
    assert upright.time_min == pytest.approx(upright.even_time_min, rel=1e-9)
    wide = replace(PRINTER, nozzle_mm=0.8, layer_mm=0.4)
    level = layer_advice(heights, np.ones(2001), 20.0, volumes[:50], wide)
    assert level.ranges[0].layer_mm == pytest.approx(0.16) and level.over_share == 1.0


def test_even_layers_are_those_of_the_plan() -> None:
    plan = plan_print(cuboid((0.0, 0.0, 0.0), (30.0, 20.0, 10.0), "block"), "petg", PRINTER, UP)
    heights, slopes = np.linspace(0.0, plan.size_mm[2], 501), np.zeros(501)
    advice = layer_advice(heights, slopes, plan.size_mm[2], plan.layer_mm3, PRINTER)
    assert (advice.layers, advice.even_layers) == (plan.layers, plan.layers)
    # The plan counts the volume of the solid, the layers that of slices in single steps: millionths apart.
    assert advice.time_min == pytest.approx(plan.time_min, rel=1e-6)
    assert plan.layer_mm3.sum() == pytest.approx(plan.volume_mm3, rel=1e-3)
    top = plan.heights_mm(plan_corner := np.array([30.0, 20.0, 10.0]))
    assert float(top) == pytest.approx(plan.size_mm[2], abs=1e-9), plan_corner


@cache
def body(kind: str) -> Design:
    recipe = bare_recipe()
    return run_to_end(
        make_design(marlo_prepared(), replace(recipe, cushion=replace(recipe.cushion, kind=kind)))
    )


@pytest.mark.heavy
def test_steps_of_a_finished_body_are_those_of_a_cut_stack() -> None:
    design = body("none")
    face = contact_face_of(design)
    assert face is not None and (face.part, face.covered) == ("body", False)
    assert face.up == pytest.approx(-design.ports[0].frame[:3, 2], abs=1e-9)
    turn = trimesh.geometry.align_vectors(face.up, UP)
    solid = design.parts["body"].mesh
    mesh = trimesh.Trimesh(solid.vertices, solid.faces, process=False)
    mesh.apply_transform(turn)
    points = trimesh.transform_points(face.points.reshape(-1, 3), turn)
    low, high = points[:, 2].min(), points[:, 2].max()
    compared = []
    for height in np.linspace(low + 1.0, high - 1.0, 40) + 0.0137:
        corners = stack_corners(mesh, LAYER_MM, np.array([height]))
        middle = corners.mean(axis=1)
        near = np.linalg.norm(middle[:, None] - points[None], axis=2)
        own = near.argmin(axis=1)
        close = near.min(axis=1) < 0.4
        if not close.any():
            continue
        vertices, faces = np.asarray(mesh.vertices), np.asarray(mesh.faces, dtype=np.int64)
        square = igl.point_mesh_squared_distance(
            np.ascontiguousarray(corners[close].reshape(-1, 3)), vertices, faces
        )
        apart = np.sqrt(np.maximum(square[0], 0.0)).reshape(-1, 2).sum(axis=1)
        compared.append(np.stack([apart, face.cusp_mm.ravel()[own[close]]], axis=1))
    found = np.concatenate(compared)
    assert len(found) > 100
    off = np.abs(found[:, 0] - found[:, 1])
    # Up to 0.4 mm from the place the skin has turned a little; edges of the band lie nearer on another side.
    assert np.median(off) < 0.005 and np.percentile(off, 90) < 0.03
    assert np.median(found[:, 0]) == pytest.approx(np.median(found[:, 1]), rel=0.03)


@pytest.mark.heavy
def test_a_plan_advises_layers_for_what_the_skin_feels() -> None:
    bare, foam = (plan_part(body(kind), "body") for kind in ("none", "foam"))
    most = limit("contact_cusp").value
    for plan in (bare, foam):
        assert plan.smooth is not None and plan.smooth.over_share < 0.03
        assert plan.smooth.cusp_p95_mm <= most and plan.smooth.layers > plan.layers
        assert plan.smooth.ranges[-1].to_mm == pytest.approx(plan.size_mm[2])
        # The plan counts the volume of the solid, the layers that of their slices: the plan's slice error.
        assert plan.smooth.even_time_min == pytest.approx(plan.time_min, rel=1e-3)
    assert print_settings({"body": bare})["print_layers"].startswith("of the body 0.2 mm; ")
    assert "print_layers" not in print_settings({"body": foam})  # the strip covers the steps


@pytest.mark.heavy
def test_a_liner_prints_its_own_steps() -> None:
    design = body("liner")
    face = contact_face_of(design)
    assert face is not None and (face.part, face.covered) == ("liner", False)
    plan = plan_part(design, "liner")
    assert face.up == pytest.approx(plan.up, abs=1e-9) and plan.smooth is not None
    heights = plan.heights_mm(face.points)
    assert heights.min() >= 0.0 and heights.max() <= plan.size_mm[2]
    assert plan_part(design, "body").smooth is None
