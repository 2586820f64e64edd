"""A lug keeps off the wall where it only touches it by a hair, and where it comes out of it again by one."""

from __future__ import annotations

import trimesh
from sealwright.facepiece.body import with_fittings
from sealwright.solids.boolean import union
from sealwright.solids.primitives import cuboid


def test_a_lug_that_touches_by_a_hair_closes_no_hole() -> None:
    # A plate with a post at one end; a beam over it with a foot in the plate, 0.02 mm into the post.
    plate = union("plate", cuboid((0, 0, 0), (40, 10, 2), "a"), cuboid((36, 0, 1), (40, 10, 9), "post"))
    beam = union("lug", cuboid((2, 4, 6), (36.02, 6, 8), "beam"), cuboid((2, 4, 1), (6, 6, 7), "foot"))
    touching = union("body", plate, beam)
    assert touching.genus == 1  # by the hair
    body = with_fittings(plate, [], None, [beam])
    mesh = trimesh.Trimesh(body.mesh.vertices, body.mesh.faces, process=False)
    assert mesh.is_watertight and mesh.euler_number == 2
    # No more is gone than the beam's end: 0.3 mm of 2 x 2 mm, and what is shared with the post.
    assert 0.0 < touching.volume - body.volume < 1.5


def test_a_lug_that_stands_in_the_wall_stays_whole() -> None:
    plate, post = cuboid((0, 0, 0), (40, 10, 2), "plate"), cuboid((10, 2, 1), (20, 8, 9), "lug")
    body = with_fittings(plate, [], None, [post])
    assert abs(body.volume - (40 * 10 * 2 + 10 * 6 * 7)) < 1e-9


def test_the_tip_of_a_lug_does_not_come_out_of_the_wall_again() -> None:
    # A roof of two slopes; a lug in one of them, whose root runs on and comes 0.2 mm out of the other.
    low, high = cuboid((0, 0, 0), (20, 10, 4), "low"), cuboid((20, 0, 0), (40, 10, 2), "high")
    roof = union("plate", low, high)
    lug = union("lug", cuboid((4, 3, 1), (8, 7, 12), "bar"), cuboid((4, 4, 1), (24, 6, 2.2), "root"))
    plain = union("body", roof, lug)
    assert plain.mesh.vertices[:, 2][plain.mesh.vertices[:, 0] > 20.1].max() == 2.2  # the tip
    body = with_fittings(roof, [], None, [lug])
    points = body.mesh.vertices
    assert points[points[:, 0] > 20.0][:, 2].max() <= 2.0
    assert abs(body.volume - (20 * 10 * 4 + 20 * 10 * 2 + 4 * 4 * 8)) < 1e-9
