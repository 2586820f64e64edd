"""Ways up of a body: directions, limits they set, and what their table says against the mesh itself."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from bare import bare_recipe
from main_job.wearers import marlo_prepared
from sealwright.designing.design import Design, make_design
from sealwright.designing.sketch import sketch
from sealwright.designing.way_up import body_up, keeps_limit, require_way, way_of
from sealwright.errors import BadRecipe
from sealwright.facepiece.contact_band import grid_normals
from sealwright.jobs.print_job import plan_part
from sealwright.predict.ways import WayUp, ways_up
from sealwright.printing.printer import WAYS_UP
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe, recipe_from_json
from sealwright.report.sections.ways import ways_section

pytestmark = pytest.mark.heavy


def standing(way: str | None) -> Recipe:
    recipe = bare_recipe()
    return replace(recipe, printer=replace(recipe.printer, way_up=way))


@cache
def made() -> Design:
    return run_to_end(make_design(marlo_prepared(), standing(None)))


@cache
def rows() -> tuple[WayUp, ...]:
    return ways_up(made(), {"body": plan_part(made(), "body")})


def test_automatic_is_port_down_and_alone_keeps_the_limit() -> None:
    assert [way_of(standing(way)) for way in (None, *WAYS_UP)] == ["port_down", *WAYS_UP]
    assert [keeps_limit(standing(way)) for way in (None, *WAYS_UP)] == [True, True, False, False]


def test_directions_are_those_of_port_and_least_steps() -> None:
    design = made()
    axis = design.ports[0].frame[:3, 2]
    assert body_up("port_down", design.ports[0].frame, design.band) == pytest.approx(-axis)
    assert body_up("band_down", design.ports[0].frame, design.band) == pytest.approx(axis)
    tilted = body_up("tilted", design.ports[0].frame, design.band)
    assert np.linalg.norm(tilted) == pytest.approx(1.0) and tilted[0] == 0.0 and tilted @ -axis >= 0.0
    normals = grid_normals(design.band.grid[:, design.band.contact]).reshape(-1, 3)
    angles = np.radians(np.arange(0.0, 180.0, 1.0))
    steps = [np.percentile(np.abs(normals @ [0.0, np.cos(a), np.sin(a)]), 95) for a in angles]
    assert np.percentile(np.abs(normals @ tilted), 95) <= min(steps) + 0.03  # tried every 5 degrees


def test_a_soft_ring_prints_port_down_only() -> None:
    recipe = recipe_from_json(
        {"ports": [{"connection": {"seal": "soft_ring"}}], "printer": {"way_up": "band_down"}}
    )
    with pytest.raises(BadRecipe) as refusal:
        require_way(recipe)
    assert refusal.value.where.key == "recipe.printer.way_up"
    require_way(replace(recipe, printer=replace(recipe.printer, way_up="port_down")))


def test_the_table_has_what_the_mesh_has() -> None:
    design, found = made(), rows()
    assert [row.way for row in found] == list(WAYS_UP)
    assert [row.chosen for row in found] == [row.exact for row in found] == [True, False, False]
    assert [row.supports for row in found] == ["none", "ribs", "ribs"]
    mesh = design.parts["body"].mesh
    for row in found:
        up = np.array(row.up)
        assert row.layers == pytest.approx(row.height_mm / 0.2, abs=1.0)
        away = mesh.face_normals @ up
        low = (mesh.corners @ up).max(axis=1) < (mesh.vertices @ up).min() + 0.05
        steep = (away < -np.sin(np.radians(design.recipe.printer.overhang_deg + 0.1))) & ~low
        assert row.overhang_mm2 == pytest.approx(mesh.face_areas[steep].sum(), rel=0.02, abs=5.0)
        assert row.bed_mm2 == pytest.approx(mesh.face_areas[low].sum(), rel=1e-6)
    tilted, port = found[1], found[0]
    # Shrinkage makes the print 0.3 % higher than the mesh.
    assert port.height_mm == pytest.approx(np.ptp(mesh.vertices @ np.array(port.up)), rel=0.005)
    assert tilted.cusp_p95_mm < port.cusp_p95_mm


def test_a_free_wall_on_ribs_comes_nearer() -> None:
    port, _, band = rows()
    drawn = sketch(marlo_prepared(), standing("band_down"))
    assert drawn.shape is not None
    assert band.port_front_mm == pytest.approx(drawn.shape.facts.port_front_mm, rel=1e-9)
    assert band.port_front_mm < port.port_front_mm and band.chamber_ml < port.chamber_ml
    assert band.moment_nmm < port.moment_nmm and port.chamber_ml == made().chamber_ml


def test_each_way_is_told_in_a_line() -> None:
    section = ways_section(rows())
    assert section is not None
    assert section[0]["told"].startswith("port down: ") and "no supports" in section[0]["told"]
    assert "at least" in section[2]["told"] and "break away" in section[2]["told"]
    assert ways_section(()) is None


def test_a_body_on_ribs_stands_on_them() -> None:
    design = run_to_end(make_design(marlo_prepared(), standing("band_down")))
    axis = design.ports[0].frame[:3, 2]
    plan = plan_part(design, "body")
    assert np.array(plan.up) == pytest.approx(axis) and plan.support_free and plan.ribs is not None
    assert 10.0 < plan.ribs_mass_g < 60.0
    rated = rows()[2]  # lugs and the bend of the boss are not in the sketch
    assert rated.height_mm == pytest.approx(plan.size_mm[2], rel=0.06)
    row = ways_up(design, {"body": plan})[2]
    assert (row.chosen, row.exact, row.supports, row.ribs_g) == (True, True, "ribs", plan.ribs_mass_g)
