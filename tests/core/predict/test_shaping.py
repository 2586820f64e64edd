"""A shaped contact surface on a whole design: the finished mesh, its cushion, and when it is kept."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import igl
import numpy as np
import pytest
from bare import bare_recipe
from sealwright.cushion.settings import CushionSettings
from sealwright.designing.design import Design, make_design
from sealwright.designing.shaped_surface import ShapedSurface
from sealwright.designing.sketch import sketch
from sealwright.face.chart import RadialChart
from sealwright.face.field_through import field_through
from sealwright.facepiece.surface_settings import SurfaceSettings
from sealwright.mesh import TriMesh
from sealwright.physics.shaped_offsets import Counts
from sealwright.predict.shaping import Shaping, most_offset_mm, surely_better
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe, with_values
from sealwright.solids.soundness import soundness_of

from .wearers import invented


def wanted_at(pq: np.ndarray) -> np.ndarray:
    """Three waves round the mouth and a slope away from it, up to 0.7 mm."""
    angle, away = np.arctan2(pq[..., 1], pq[..., 0]), np.linalg.norm(pq, axis=-1)
    return 0.4 * np.sin(3.0 * angle) * np.minimum(away / 0.3, 1.0) + 1.0 * (np.minimum(away, 0.9) - 0.5)


def image(chart: RadialChart) -> np.ndarray:
    line = (np.arange(chart.side) - chart.half) * chart.pitch_rad
    return wanted_at(np.stack(np.meshgrid(line, line), axis=-1))


@cache
def made(kind: str, thickness_mm: float = 3.0) -> Design:
    """A finished design whose surface is given, not chosen."""
    recipe = bare_recipe(cushion=CushionSettings(kind=kind, thickness_mm=thickness_mm))
    surface = ShapedSurface("kept", image(invented().face.chart))
    return run_to_end(make_design(invented(), recipe, surface=surface))


def distances(points: np.ndarray, mesh: TriMesh) -> np.ndarray:
    """By libigl."""
    return np.sqrt(
        igl.point_mesh_squared_distance(np.ascontiguousarray(points), mesh.vertices, mesh.faces)[0]
    )


@pytest.mark.heavy
@pytest.mark.parametrize(("kind", "seated_mm"), [("none", 0.0), ("foam", 2.7)])
def test_finished_body_follows_the_offsets(kind: str, seated_mm: float) -> None:
    """From the skin under the seal line to the finished body it is what the cushion leaves, and the offset.

    A bare body enters where the offset is below zero, by as much. An offset is read at a ray and kept along
    a normal: 3 mm off the skin that is up to 2.5 mm beside it, where these change by 0.03 mm in 1 mm. The
    crease beside the nose holds this narrow band off by up to 0.49 mm without any offsets.
    """
    design = made(kind)
    face = design.prepared.face
    points = design.seal_line.points
    offset = wanted_at(face.chart.place_of(points)[0])
    assert np.ptp(offset) > 0.7
    apart = distances(points, design.parts["body"].mesh)
    error = apart - np.abs(seated_mm + offset)
    assert np.median(np.abs(error)) < 0.03 and np.percentile(np.abs(error), 80) < 0.08
    assert np.abs(error).max() < (0.15 if kind == "none" else 0.55)
    for name, part in design.parts.items():
        assert not soundness_of(part.mesh, name).problems


@pytest.mark.heavy
def test_liner_keeps_its_thickness_and_its_skin_side_follows() -> None:
    """The skin side lies off the skin by the offset, less what a seated liner is pressed by (5 % of 3 mm)."""
    design = made("liner")
    face, line = design.prepared.face, design.seal_line
    offset = wanted_at(face.chart.place_of(line.points)[0])
    away = offset - 0.15
    outwards = np.abs(away) > 0.05  # elsewhere the side of the skin is in doubt
    apart = distances(line.points, design.parts["liner"].mesh)
    np.testing.assert_allclose(apart[outwards], np.abs(away)[outwards], atol=0.12)
    assert design.fit is not None  # measured before the groove is cut, less the wanted distance
    assert np.percentile(np.abs(design.fit.seal_gap), 80) < 0.08  # as for the body above


def test_field_goes_through_its_places() -> None:
    """A plane over the chart is met everywhere between its places: straight parts add nothing (hand)."""
    chart = invented().face.chart
    random = np.random.default_rng(2)
    pq = random.uniform(-0.7, 0.7, (400, 2))
    field = field_through(chart, pq, 0.3 + pq @ [0.5, -0.8])
    inside = np.abs(pq).max(axis=1) < 0.55
    pixel = np.rint(chart.pixels_of(pq[inside])).astype(int)
    there = (pixel - chart.half) * chart.pitch_rad
    values = field[pixel[:, 0], pixel[:, 1]]
    both = [
        0.3 + there @ way for way in ([0.5, -0.8], [-0.8, 0.5])
    ]  # rows and columns by the chart's own order
    assert min(np.abs(values - one).max() for one in both) < 1e-3
    assert field.min() >= (0.3 + pq @ [0.5, -0.8]).min() - 1e-9


@pytest.mark.parametrize(
    ("kind", "thickness_mm", "most_mm"),
    [("none", 8.0, 1.5), ("foam", 8.0, 1.5), ("foam", 2.0, 0.6), ("liner", 1.0, 0.35)],
)
def test_offsets_leave_a_cushion_pressed_by_no_more_than_two_fifths(kind, thickness_mm, most_mm) -> None:
    """By hand: 0.4 t less what is pressed when seated (10 % of foam, 5 % of a liner)."""
    recipe = Recipe(
        cushion=CushionSettings(kind=kind, thickness_mm=thickness_mm),
        contact_surface=SurfaceSettings(most_mm=1.5),
    )
    assert most_offset_mm(Design(recipe=recipe, prepared=invented())) == pytest.approx(most_mm)


@pytest.mark.heavy
def test_a_surface_is_kept_only_where_draws_and_layer_agree() -> None:
    values = {"cushion.kind": "liner", "cushion.thickness_mm": 3.0, "straps.tension_n": 3.4}
    shaping = Shaping(sketch(invented(), with_values(Recipe(), values)), Counts(16, 32, 48))
    patch = shaping.band.patch
    even = run_to_end(shaping.on_draws(np.zeros(len(patch.points))))
    same = run_to_end(shaping.kept(even, np.zeros(len(patch.points))))
    assert same.outcome == "not_sure" and same.shaped_mm is None and same.shaped == same.even
    assert same.held_back == "" and same.part is None
    edge = np.where(patch.across_mm > 9.0, -0.8, 0.0)  # an outer edge that cuts in
    lip = run_to_end(shaping.kept(even, edge))
    assert lip.outcome in ("layer", "not_sure") and lip.shaped_mm is None
    assert lip.held_back == "layer_peak_over_even"
    assert run_to_end(shaping.on_draws(edge)).numbers.worst_cm2_kpa > 1.1 * lip.even.worst_cm2_kpa
    # Pressed as they are told: the image brings the offsets back to the points they were chosen for.
    wave = 0.3 * np.sin(2.0 * np.pi * patch.station / patch.station_count)
    np.testing.assert_allclose(shaping.offsets_of(shaping.image_of(wave)), wave, atol=0.03)


def test_an_even_surface_is_no_better_than_itself() -> None:
    from physics.test_pull_trial import draws

    worn = draws(30.0, samples=32).worn()
    assert not surely_better(worn, worn)
    lower = replace(worn, site_kpa={name: 0.8 * kpa for name, kpa in worn.site_kpa.items()})
    assert surely_better(worn, lower) and not surely_better(lower, worn)
