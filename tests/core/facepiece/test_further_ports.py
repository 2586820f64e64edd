"""Further ports find room for what they carry; two filters at the sides go together and share the air."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import igl.copyleft.cgal as cgal
import numpy as np
import pytest
import trimesh
from predict.wearers import invented
from sealwright.designing import port_spot
from sealwright.designing.assembly import assembly_of
from sealwright.designing.design import Design, make_design
from sealwright.errors import DoesNotFit
from sealwright.predict.air import breathing_of, filter_case_of
from sealwright.predict.hanging import hanging
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe, read_recipe
from sealwright.stage_cache import StageCache
from trials.choices import shipped_recipes

pytestmark = pytest.mark.heavy
CACHE = StageCache()


def twin_recipe() -> Recipe:
    return read_recipe(next(path for path in shipped_recipes() if path.stem == "twin-side-filters"))


@cache
def twin() -> Design:
    return run_to_end(make_design(invented(), twin_recipe(), cache=CACHE))


def by_trimesh(name: str) -> trimesh.Trimesh:
    mesh = twin().parts[name].mesh
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)


def test_two_side_filters_go_together() -> None:
    parts = twin().parts
    assert {"holder-2", "holder-3", "retainer-2", "retainer-3", "valve-seat"} <= set(parts)
    assert assembly_of(twin()).faulty == ()
    body, holder = (parts[name].mesh for name in ("body", "holder-2"))
    shared = cgal.mesh_boolean(
        body.vertices,
        body.faces.astype(np.int64),
        holder.vertices,
        holder.faces.astype(np.int64),
        "intersect",
    )
    volume = trimesh.Trimesh(*shared[:2], process=False).volume if len(shared[1]) else 0.0
    assert abs(volume) < 1e-3  # CGAL's exact boolean: another library than the modeller
    whole = by_trimesh("body")
    assert whole.is_watertight
    assert whole.body_count == 1
    # Holes by Euler's formula: face to port, two further ports, and a slot in each lug.
    assert 1 - whole.euler_number // 2 == 3 + len(twin().straps)


def test_twins_mirror_each_other() -> None:
    one, two = (placed.frame for placed in twin().ports[1:])
    # The same turn, tilt and height; they stand as far out as each side of the face needs.
    assert two[:3, 2] == pytest.approx(one[:3, 2] * [-1.0, 1.0, 1.0], abs=1e-9)
    assert one[0, 3] > 20.0  # the first at the wearer's left, +X


def test_both_filters_breathe_weigh_and_hold_air() -> None:
    open_mm2 = np.pi / 4.0 * (80.0 - 2.0 * twin_recipe().holder.land_mm) ** 2
    # A circle of 256 sides: 0.01 %.
    assert filter_case_of(twin()).area_cm2 == pytest.approx(2.0 * open_mm2 / 100.0, rel=1e-3)
    dead = breathing_of(twin()).dead_space
    air = sum(held.facts.holder_air_mm3 for held in twin().holders) / 1000.0
    assert dead.holder_ml == pytest.approx(air)
    tubes = sum(np.pi * 0.9**2 * (p.parts.length_mm + p.parts.tube_mm) / 10.0 for p in twin().ports[1:])
    assert dead.port_ml == pytest.approx(tubes, rel=1e-6)  # bores of 18 mm: 0.9 cm radius
    assert sum(part.name == "medium" for part in hanging(twin()).parts) == 2


def test_filter_without_room_is_refused_with_what_would_fit(monkeypatch) -> None:
    # A tube of 2 mm at most and no lugs: then the face beside the mouth is in the way of a wide rim.
    monkeypatch.setattr(port_spot, "TALLEST_MM", 2.0)
    recipe = twin_recipe()
    straps = replace(recipe.straps, lug=replace(recipe.straps.lug, count=0))

    def with_disc(disc_mm: float) -> Recipe:
        ports = (recipe.ports[0], replace(recipe.ports[1], disc_mm=disc_mm))
        return replace(recipe, ports=ports, straps=straps)

    with pytest.raises(DoesNotFit) as caught:
        run_to_end(make_design(invented(), with_disc(160.0), "preview"))
    assert caught.value.where.key == "recipe.ports[1]"
    named = re.search(r"A medium of (\d+) mm fits there", caught.value.fix)
    assert named
    assert len(run_to_end(make_design(invented(), with_disc(float(named[1])), "preview")).ports) == 2


def test_unused_port_takes_a_blind_cap() -> None:
    recipe = twin_recipe()
    capped = replace(recipe, ports=(*recipe.ports[:2], replace(recipe.ports[2], carries="cap")))
    design = run_to_end(make_design(invented(), capped, cache=CACHE))
    assert {"holder", "port-cap"} <= set(design.parts)
    assert assembly_of(design).faulty == ()
    assert filter_case_of(design).area_cm2 == pytest.approx(0.5 * filter_case_of(twin()).area_cm2)
