"""Layers and what hangs in them, against closed formulas and a second method (trimesh sections + shapely)."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import manifold3d
import numpy as np
import pytest
import shapely
import trimesh
from sealwright.errors import DoesNotFit
from sealwright.printing.orientation import turning_up
from sealwright.printing.printer import PrinterSettings
from sealwright.printing.slices import Layer, on_bed, outline_edges, slices_of
from sealwright.printing.spans import bridge_span, held_edges, ledge_reach
from sealwright.printing.supports import Unsupported, ledge_limit, overhang_area, unsupported_regions
from sealwright.printing.walls import thinnest_wall
from sealwright.solids.boolean import Solid
from sealwright.solids.polygon import inside_edges

pytestmark = pytest.mark.heavy

M = manifold3d.Manifold
PRINTER = PrinterSettings(overhang_limit_deg=45.0)


def box(x: float, y: float, z: float, at: tuple[float, float, float] = (0, 0, 0)) -> manifold3d.Manifold:
    return M.cube((x, y, z)).translate(at)


def joined(*parts: manifold3d.Manifold) -> Solid:
    return Solid("trial part", M.batch_boolean(list(parts), manifold3d.OpType.Add))


def found_in(solid: Solid, printer: PrinterSettings = PRINTER) -> list[Unsupported]:
    return unsupported_regions(slices_of(on_bed(solid, np.eye(4))[0], printer.layer_mm), printer)


@cache
def bowl_with_handle() -> Solid:
    """A tilted shell with a bore and a lug: islands, ledges and bridges of all kinds."""
    shell = M.sphere(1, 96).scale((30, 33, 36)) - M.sphere(1, 96).scale((27.6, 30.6, 33.6))
    shell = shell.trim_by_plane((0, -1, 0), -8)
    lug = box(16, 5, 22, (28, -12, 0)) - box(6, 20, 14, (33, -18, 4))
    part = shell + lug - M.cylinder(90, 10, 10, 64).rotate((90, 0, 0))
    return on_bed(Solid("bowl", part.rotate((20, 10, 0))), np.eye(4))[0]


# --- slices -----------------------------------------------------------------------------------------------


def test_layers_of_a_ball_have_its_volume_and_height() -> None:
    ball, _ = on_bed(Solid("ball", M.sphere(20, 200)), np.eye(4))
    layers = slices_of(ball, 0.2)
    assert len(layers) == 200 and layers[0].number == 1 and layers[0].bottom_mm == 0.0
    assert layers[-1].top_mm == pytest.approx(40.0, abs=1e-9)
    volume = sum(layer.volume_mm3 for layer in layers)
    # Midpoint rule: the error of a ball of radius r in layers h is h^2 / (8 r^2) of its volume, 1.3e-5.
    assert volume == pytest.approx(ball.volume, rel=2e-5)
    z = np.array([0.5 * (layer.bottom_mm + layer.top_mm) for layer in layers])
    areas = np.array([layer.area_mm2 for layer in layers])
    # Facets 0.63 mm wide lie up to 0.005 mm inside the ball; there 2 pi r times as much area.
    assert np.allclose(areas, np.pi * (400 - (z - 20) ** 2), rtol=2e-3, atol=0.7)


def test_last_layer_may_be_lower() -> None:
    layers = slices_of(joined(box(10, 10, 1.1)), 0.2)
    assert len(layers) == 6 and layers[-1].top_mm == pytest.approx(1.1)
    assert sum(layer.volume_mm3 for layer in layers) == pytest.approx(110.0, rel=1e-9)


def test_layer_areas_against_trimesh_sections() -> None:
    layers, regions = both_methods()
    for layer, region in list(zip(layers, regions, strict=True))[::5]:
        assert layer.area_mm2 == pytest.approx(region.area, rel=1e-5, abs=1e-4)


def test_placing_on_the_bed() -> None:
    orientation = turning_up(np.array([0.3, -0.8, 0.2]))
    placed, placement = on_bed(joined(box(10, 20, 30, (5, 5, 5))), orientation)
    low, high = placed.mesh.bounds
    assert low[2] == pytest.approx(0, abs=1e-9) and np.allclose((low + high)[:2], 0, atol=1e-9)
    assert np.allclose(placement[:3, :3], orientation[:3, :3])


def test_part_in_the_wrong_unit_is_refused() -> None:
    with pytest.raises(DoesNotFit, match="layers"):
        slices_of(joined(box(10, 10, 50_000)), 0.2)


# --- what hangs -------------------------------------------------------------------------------------------


def test_bridge_between_two_pillars_has_its_length_and_layer() -> None:
    part = joined(box(5, 8, 10), box(5, 8, 10, (17, 0, 0)), box(22, 8, 2, (0, 0, 10)))
    found = found_in(part)
    assert [u.kind for u in found] == ["bridge"]
    assert found[0].span_mm == pytest.approx(12.0, abs=0.02)  # outline smoothing of 0.005 mm on both sides
    assert found[0].layer == 51 and found[0].point_mm[2] == pytest.approx(10.0)
    assert not found[0].is_clean(PRINTER) and not found[0].needs_support(PRINTER)


def test_bridge_is_laid_along_its_short_way() -> None:
    tunnel = joined(box(14, 40, 12) - box(6, 50, 6, (4, -5, 0)))
    found = found_in(tunnel)
    assert [u.kind for u in found] == ["bridge"] and found[0].span_mm == pytest.approx(6.0, abs=0.02)


def test_flat_roof_of_a_round_hollow_is_a_bridge_over_its_diameter() -> None:
    found = found_in(Solid("pot", M.cylinder(20, 10, 10, 128) - M.cylinder(12, 6, 6, 128)))
    assert [u.kind for u in found] == ["bridge"]
    assert found[0].span_mm == pytest.approx(12.0, abs=0.05)
    assert found[0].area_mm2 == pytest.approx(np.pi * (6 - 0.25) ** 2, rel=5e-3)  # reach 0.2 + slack 0.05


def test_ledge_has_its_reach_and_needs_support() -> None:
    found = found_in(joined(box(6, 8, 10), box(14, 8, 2, (0, 0, 10))))
    assert [u.kind for u in found] == ["ledge"] and found[0].span_mm == pytest.approx(8.0, abs=0.02)
    assert found[0].needs_support(PRINTER)


def test_block_that_starts_in_the_air_is_an_island() -> None:
    arch = joined(box(4, 4, 20), box(20, 4, 2, (0, 0, 20)), box(3, 4, 10, (17, 0, 10)))
    kinds = {u.layer: u.kind for u in found_in(arch)}
    assert kinds[51] == "island"


@pytest.mark.parametrize(("angle", "clear"), [(30, True), (44, True), (45, True), (50, False), (65, False)])
def test_cone_widening_upwards_at_an_angle_from_the_vertical(angle: float, clear: bool) -> None:
    height = 10.0
    wide = 5 + height * np.tan(np.radians(angle))
    found = found_in(Solid("cone", M.cylinder(height, 5, wide, 128)))
    # Layers step out by h tan(angle): 0.238 mm at 50 degrees is within the slack of 0.05 mm over the reach.
    step = 0.2 * np.tan(np.radians(angle))
    if clear or step < 0.25:
        assert found == []
    else:
        assert len(found) == 49 and {u.kind for u in found} == {"ledge"}
        assert np.allclose([u.span_mm for u in found], step, atol=0.02)
    area = overhang_area(Solid("cone", M.cylinder(height, 5, wide, 128)).mesh, 45.0)
    side = np.pi * (5 + wide) * np.hypot(wide - 5, height)
    # A 128-sided cone has 0.06 % less side than a round one.
    assert area == (0.0 if clear else pytest.approx(side, rel=2e-3))


def test_overhang_area_of_a_ball_is_a_cap() -> None:
    ball, _ = on_bed(Solid("ball", M.sphere(20, 400)), np.eye(4))
    # The cap steeper than 45 degrees: 2 pi r^2 (1 - sin 45); rows of facets 0.9 degrees high straddle it.
    assert overhang_area(ball.mesh, 45.0) == pytest.approx(
        2 * np.pi * 400 * (1 - np.sin(np.pi / 4)), rel=0.03
    )


def test_face_on_the_bed_is_no_overhang() -> None:
    assert overhang_area(joined(box(10, 10, 10)).mesh, 45.0) == 0.0
    assert overhang_area(joined(box(5, 10, 10), box(10, 10, 2, (0, 0, 10))).mesh, 45.0) == pytest.approx(50.0)


def test_ledge_limit_never_forbids_the_overhang_limit() -> None:
    coarse = PrinterSettings(overhang_limit_deg=45.0, layer_mm=0.6, ledge_mm=0.3)
    assert ledge_limit(coarse) > coarse.reach_mm == pytest.approx(0.6)
    assert ledge_limit(PRINTER) == 0.4


@pytest.mark.parametrize("layer_mm", [0.1, 0.2, 0.3])
@pytest.mark.parametrize("limit_deg", [30.0, 45.0, 60.0])
def test_slope_limit_holds_at_every_layer_height(limit_deg: float, layer_mm: float) -> None:
    """A ledge of 0.4 mm is one step; it used to let whole slopes of 63 degrees pass at layers of 0.2 mm.

    Slices see a slope to about 6 degrees: layers may step out by a quarter of their reach unseen.
    """
    printer = PrinterSettings(overhang_limit_deg=limit_deg, layer_mm=layer_mm)

    def support_free(angle: float) -> bool:
        cone = Solid("cone", M.cylinder(10, 5, 5 + 10 * np.tan(np.radians(angle)), 128))
        found = unsupported_regions(slices_of(cone, layer_mm), printer)
        return not any(u.needs_support(printer) for u in found)

    assert support_free(limit_deg - 0.5)
    assert not support_free(limit_deg + 7.0)
    assert not support_free(limit_deg + 18.0)


def test_a_single_ledge_holds_and_stairs_of_them_do_not() -> None:
    def stairs(steps: int) -> Solid:
        """Plates that each reach 0.35 mm further than the one below, a layer high."""
        parts = [box(6 + 0.35 * k, 8, 0.2, (0, 0, 5 + 0.2 * k)) for k in range(1, steps + 1)]
        return joined(box(6, 8, 5.2), *parts, box(6, 8, 3, (0, 0, 5)))

    one, five = found_in(stairs(1)), found_in(stairs(5))
    assert [u.kind for u in one] == ["ledge"]
    assert not one[0].needs_support(PRINTER)
    assert one[0].excess_mm == pytest.approx(0.15, abs=0.02)  # 0.35 less the reach of 0.2 at 45 degrees
    assert [u.excess_mm for u in five] == pytest.approx([0.15, 0.3, 0.45, 0.6, 0.75], abs=0.05)
    assert [u.needs_support(PRINTER) for u in five] == [False, True, True, True, True]


# --- the second method: trimesh sections and shapely, no code in common ------------------------------------


def shapely_layers(mesh: trimesh.Trimesh, count: int) -> list[shapely.Geometry]:
    """Regions of layers 0.2 mm high: segments of triangles, joined to rings, combined by even and odd."""
    heights = (np.arange(count) + 0.5) * 0.2
    lines, to_3d, _ = trimesh.intersections.mesh_multiplane(mesh, [0, 0, 0], [0, 0, 1], heights)
    regions = []
    for segments, matrix in zip(lines, to_3d, strict=True):
        ends = segments.reshape(-1, 2) @ matrix[:2, :2].T + matrix[:2, 3]
        # Neighbouring triangles compute the same end twice: rounding makes the two equal.
        pieces = shapely.linestrings(np.round(ends, 7).reshape(-1, 2, 2))
        rings = shapely.get_parts(shapely.polygonize(list(pieces[shapely.length(pieces) > 0])))
        region = shapely.Polygon()
        for ring in rings:
            region = region.symmetric_difference(shapely.Polygon(ring.exterior))
        regions.append(region)
    return regions


@cache
def both_methods() -> tuple[list[Layer], list[shapely.Geometry]]:
    solid = bowl_with_handle()
    layers = slices_of(solid, 0.2)
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
    return layers, shapely_layers(mesh, len(layers))


def test_islands_against_the_second_method() -> None:
    layers, regions = both_methods()
    ours = {u.layer for u in unsupported_regions(layers, PRINTER) if u.kind == "island"}
    theirs = set()
    for number, (below, region) in enumerate(pairwise(regions), start=2):
        grown = below.buffer(0.25)
        for piece in getattr(region, "geoms", [region]):
            if piece.area > 1e-3 and not piece.intersects(grown):
                theirs.add(number)
    assert len(theirs) >= 1
    assert ours == theirs


def test_unsupported_area_of_each_layer_against_the_second_method() -> None:
    layers, regions = both_methods()
    ours = np.zeros(len(layers) + 1)
    for u in unsupported_regions(layers, PRINTER):
        ours[u.layer] += u.area_mm2
    theirs = np.zeros(len(layers) + 1)
    for number, (below, region) in enumerate(pairwise(regions), start=2):
        theirs[number] = region.difference(below.buffer(0.25)).area
    assert theirs.sum() > 50
    # Our outlines are smoothed by 0.005 mm, over up to about 200 mm of border a layer: 1 mm2 at most.
    assert np.abs(ours - theirs).max() < 0.4
    assert ours.sum() == pytest.approx(theirs.sum(), rel=0.02)


def test_islands_are_the_lowest_points_of_the_surface() -> None:
    # Morse theory: a piece of a layer starts in the air just above each lowest point of the surface that
    # has material above it; count those on the mesh alone.
    solid = bowl_with_handle()
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
    z = mesh.vertices[:, 2]
    lowest = [
        v for v, near in enumerate(mesh.vertex_neighbors) if near and z[v] < z[near].min() and z[v] > 0.4
    ]
    material = [v for v in lowest if mesh.vertex_normals[v, 2] < 0]
    islands = [u for u in unsupported_regions(both_methods()[0], PRINTER) if u.kind == "island"]
    heights = sorted(z[v] for v in material)
    assert len(islands) == len(material)
    for island, height in zip(sorted(u.point_mm[2] for u in islands), heights, strict=True):
        assert island == pytest.approx(height, abs=0.2)


# --- helpers ----------------------------------------------------------------------------------------------

SQUARE = np.array([[[0, 0], [10, 0]], [[10, 0], [10, 4]], [[10, 4], [0, 4]], [[0, 4], [0, 0]]], dtype=float)


@pytest.mark.parametrize(
    ("held", "span", "reach"),
    [
        ([True, True, True, True], 4.0, 0.0),
        ([True, False, True, False], 4.0, 2.0),  # long sides hold: lines run the short way
        ([False, True, False, True], 10.0, 5.0),
        ([True, False, False, False], None, 4.0),
        ([False, True, False, False], None, 10.0),
    ],
)
def test_a_rectangle_held_on_some_sides(held: list[bool], span: float | None, reach: float) -> None:
    got = bridge_span(SQUARE, np.array(held), 0.1)
    assert got is None if span is None else got == pytest.approx(span, abs=1e-9)
    assert ledge_reach(SQUARE, np.array(held)) == pytest.approx(reach)


def test_points_in_outlines_with_a_hole() -> None:
    hole = SQUARE[::-1, ::-1] * 0.25 + [4, 1.5]
    edges = np.concatenate([SQUARE, hole])
    points = np.array([[1.0, 1.0], [5.0, 2.0], [11.0, 2.0], [9.9, 3.9]])
    assert inside_edges(points, edges).tolist() == [True, False, False, True]
    ring = shapely.Polygon(SQUARE[:, 0], [hole[:, 0]])
    cloud = np.random.default_rng(2).uniform([-1, -1], [11, 5], (500, 2))
    assert np.array_equal(inside_edges(cloud, edges), shapely.contains_xy(ring, cloud))


def test_edges_next_to_material_are_held() -> None:
    layer = outline_edges(manifold3d.CrossSection.square((20, 4)))
    assert held_edges(SQUARE, layer).tolist() == [False, True, False, False]


# --- walls ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("wall", [0.35, 0.8, 1.2])
def test_wall_of_a_tube(wall: float) -> None:
    tube = Solid("tube", M.cylinder(8, 20, 20, 256) - M.cylinder(20, 20 - wall, 20 - wall, 256))
    thin = thinnest_wall(slices_of(tube, 0.2), PRINTER)
    assert not thin.at_least and thin.width_mm == pytest.approx(wall, abs=0.03)
    assert np.hypot(*thin.point_mm[:2]) == pytest.approx(20 - wall / 2, abs=wall)


def test_thick_walls_and_round_rims_are_not_thin() -> None:
    assert thinnest_wall(slices_of(joined(box(20, 20, 5)), 0.2), PRINTER).at_least
    rod = on_bed(Solid("rod", M.cylinder(40, 3, 3, 64).rotate((90, 0, 0))), np.eye(4))[0]
    # The last layers of a lying rod are narrow strips, but only over a few tenths of height.
    assert thinnest_wall(slices_of(rod, 0.2), PRINTER).at_least


def test_thinnest_of_several_walls_is_named() -> None:
    part = joined(box(20, 20, 2), box(20, 1.0, 8, (0, 2, 2)), box(20, 0.6, 8, (0, 12, 2)))
    thin = thinnest_wall(slices_of(part, 0.2), PRINTER)
    assert thin.width_mm == pytest.approx(0.6, abs=0.03)
    assert 11.9 < thin.point_mm[1] < 12.7 and thin.layer > 10
