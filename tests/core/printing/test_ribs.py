"""Ribs under what hangs over: where they stand, that they touch nothing, and that they bear it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import trimesh
from sealwright.jobs.print_job import print_parts
from sealwright.printing.plan import plan_print
from sealwright.printing.printer import PrinterSettings
from sealwright.printing.ribs import borne, falls_beside_ribs, on_ribs, ribs_under
from sealwright.printing.slices import slices_of
from sealwright.printing.supports import unsupported_regions
from sealwright.solids.boolean import Solid, shared_volume, union
from sealwright.solids.primitives import cuboid

PRINTER = PrinterSettings()
UP = np.array([0.0, 0.0, 1.0])


def table() -> Solid:
    """A plate 60 x 40 x 4 mm on a column 10 x 10 x 20 mm in its middle."""
    plate = cuboid((-30.0, -20.0, 20.0), (30.0, 20.0, 24.0), "plate")
    return union("table", plate, cuboid((-5.0, -5.0, 0.0), (5.0, 5.0, 21.0), "column"))


def regions(solid: Solid, height: float) -> shapely.Geometry:
    """The section at a height, as trimesh cuts and shapely joins it."""
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
    cut = mesh.section(plane_origin=[0.0, 0.0, height], plane_normal=UP)
    rings, turn = cut.to_2D(to_2D=np.eye(4))
    assert np.allclose(turn[:2, :2], np.eye(2))
    found = shapely.Polygon()
    for ring in rings.polygons_closed:
        found = found.symmetric_difference(ring.buffer(0.0))
    return found


def test_every_place_under_a_plate_is_a_clean_bridge_from_ribs() -> None:
    ribs = ribs_under(table(), PRINTER)
    assert ribs is not None
    walls = regions(ribs.printed, 10.0)
    shadow = shapely.box(-30, -20, 30, 20).difference(shapely.box(-5, -5, 5, 5))
    assert shadow.contains(walls)
    # Cells are square: of the largest free circle the square's diagonal is a clean bridge, 5 mm by default.
    grid = np.stack(np.meshgrid(np.arange(-29.5, 29.6, 0.5), np.arange(-19.5, 19.6, 0.5)), axis=-1).reshape(
        -1, 2
    )
    inside = shapely.points(grid)[shapely.contains_xy(shadow, *grid.T)]
    assert shapely.distance(walls, inside).max() <= 0.5 * PRINTER.bridge_mm / np.sqrt(2.0) + 0.05
    # Two sets of lines 0.45 thick, a clean bridge's cell apart: 21 % of the area, and the edge.
    assert 0.2 < walls.area / shadow.area < 0.35


def test_ribs_stop_a_layer_short_and_beside_the_part() -> None:
    part, ribs = table(), ribs_under(table(), PRINTER)
    assert ribs is not None
    assert ribs.printed.mesh.bounds[0, 2] == 0.0
    assert ribs.printed.mesh.bounds[1, 2] == pytest.approx(20.0 - PRINTER.layer_mm, abs=1e-6)
    assert ribs.bearing.mesh.bounds[1, 2] == pytest.approx(20.0, abs=1e-6)
    assert shared_volume(ribs.printed, part) == 0.0
    # 0.2 mm beside walls, at their corners over the diagonal.
    assert (
        shapely.distance(regions(ribs.printed, 10.0), shapely.box(-5, -5, 5, 5)) >= 0.2 / np.sqrt(2.0) - 1e-3
    )


def test_a_plate_falls_without_them_and_stands_on_them() -> None:
    part, ribs = table(), ribs_under(table(), PRINTER)
    assert ribs is not None
    alone = unsupported_regions(slices_of(part, 0.2), PRINTER)
    assert any(falls_beside_ribs(one, PRINTER) for one in alone)
    layers = borne(slices_of(part, 0.2), slices_of(ribs.bearing, 0.2), PRINTER)
    assert not any(falls_beside_ribs(one, PRINTER) for one in unsupported_regions(layers, PRINTER))


def test_what_stands_by_itself_has_none() -> None:
    assert ribs_under(cuboid((0.0, 0.0, 0.0), (20.0, 20.0, 10.0), "block"), PRINTER) is None
    plan = plan_print(cuboid((0.0, 0.0, 0.0), (20.0, 20.0, 10.0), "block"), "petg", PRINTER, UP)
    assert on_ribs(plan, PRINTER) is plan


def test_a_plan_on_ribs_counts_them_and_prints_them_as_one_object() -> None:
    plan = plan_print(table(), "petg", PRINTER, UP)
    borne_plan = on_ribs(plan, PRINTER)
    assert not plan.support_free and borne_plan.support_free and borne_plan.ribs is not None
    # PETG 1.27 g/cm3 in the table of materials; the mesh is in the part's frame, shrinkage made up for.
    mesh = trimesh.Trimesh(borne_plan.ribs.vertices, borne_plan.ribs.faces)
    assert mesh.is_watertight
    assert borne_plan.ribs_mass_g == pytest.approx(mesh.volume * plan.mass_g / plan.volume_mm3, rel=1e-6)
    assert borne_plan.mass_g == pytest.approx(plan.mass_g + borne_plan.ribs_mass_g, rel=1e-9)
    assert borne_plan.time_min > plan.time_min and borne_plan.cost_money > plan.cost_money
    parts = print_parts({"body": borne_plan})
    assert [(part.name, part.assembly) for part in parts] == [("body", "body"), ("ribs", "body")]
    assert [part.name for part in print_parts({"body": plan})] == ["body"]
