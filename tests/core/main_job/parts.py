"""Invariant 1 of docs/design: what is exported is one sound solid, judged by trimesh, libigl and CGAL."""

from __future__ import annotations

from itertools import combinations

from sealwright.facepiece.body import inside_wall, placed_lugs
from sealwright.hardware.allowance import allowance_of
from sealwright.hardware.lugs import make_lug
from sealwright.solids.boolean import shared_volume

from .cases import Case
from .oracles import as_trimesh, crossings, is_manifold, pieces

CROWDED = {"head-c", "sculpt-a", "sensor-scan-a"}  # walls that lean so far that the fins run down to the port
FINS_TOUCH_MM3 = {"head-mean": 12.0, "face-m36": 12.0}  # short walls since the port stands near: fins touch


def test_every_part_is_one_watertight_outward_manifold(case: Case) -> None:
    assert {"body", "holder"} <= set(case.design.parts)
    for name, solid in case.design.parts.items():
        mesh = as_trimesh(solid.mesh)
        assert mesh.is_watertight, name
        assert mesh.is_winding_consistent, name
        assert mesh.volume > 0, name
        assert pieces(solid.mesh) == 1, name
        assert is_manifold(solid.mesh), name
        # 1e-9 of the volume: summation in another order
        assert abs(mesh.volume - solid.volume) < 1e-9 * mesh.volume, name


def test_holes_through_the_body_are_the_port_and_the_lug_slots(case: Case) -> None:
    """Face opening to port is one ring; each of the four lugs has one slot: genus 5 = 1 - Euler / 2."""
    assert 1 - as_trimesh(case.design.parts["body"].mesh).euler_number // 2 == 5


def test_lugs_do_not_stand_in_each_other_s_way(case: Case) -> None:
    """On a small or steep body four lugs may run into each other: that is said."""
    made = case.design
    allowance = allowance_of(made.recipe.allowance)
    parts = [(make_lug(made.recipe.straps.lug, allowance, point.wall), point) for point in made.straps]
    lugs = placed_lugs(parts, inside_wall(made.prepared.face, made.shell))
    assert len(lugs) == 4
    meeting = [pair for pair in combinations(lugs, 2) if shared_volume(*pair) > 1.0]
    assert len([remark for remark in made.remarks if "run into each other" in remark.text]) == len(meeting)
    assert not meeting or case.name in {*CROWDED, *FINS_TOUCH_MM3}
    assert all(shared_volume(*pair) < FINS_TOUCH_MM3.get(case.name, 1e9) for pair in meeting)


def test_no_part_crosses_itself(case: Case) -> None:
    for name, solid in case.design.parts.items():
        assert crossings(solid.mesh) == 0, name
