"""A lug that touches the wall by a hair would close a hole behind it: it keeps off there."""

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
