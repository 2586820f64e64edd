"""Collisions are refused with the place; rooms that only graze are not."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.designing.fittings import outside_parts, require_off_skin, require_room
from sealwright.errors import DoesNotFit
from sealwright.facepiece.body import Placed
from sealwright.facepiece.strap_points import StrapPoint
from sealwright.hardware.collisions import Room, require_free
from sealwright.hardware.holder import make_holder
from sealwright.hardware.lug_wall import plane_wall
from sealwright.hardware.lugs import make_lug
from sealwright.hardware.options import HolderSettings, LugSettings, PortSettings
from sealwright.hardware.ports import make_port
from sealwright.solids.boolean import shared_volume
from sealwright.solids.primitives import cuboid, cylinder

from .gauges import ALLOWANCE


def moved(x: float, y: float = 0.0, z: float = 0.0) -> np.ndarray:
    out = np.eye(4)
    out[:3, 3] = (x, y, z)
    return out


PORT = make_port(PortSettings(), ALLOWANCE)
HAND = Room("port 1", PORT.keep_clear, "ports[0].tilt_deg")


def test_overlapping_boxes_are_refused_at_the_middle_of_what_they_share() -> None:
    one = Room("port 1", cuboid((0, 0, 0), (10, 10, 10), "one"))
    two = Room("nose", cuboid((8, 0, 0), (20, 10, 10), "two"))
    with pytest.raises(DoesNotFit) as caught:
        require_free([one], [two])
    assert "200 mm3" in caught.value.what  # 2 x 10 x 10
    assert caught.value.where.point == pytest.approx((9.0, 5.0, 5.0))
    assert caught.value.where.role == "port 1"


def test_grazing_is_allowed() -> None:
    one = Room("port 1", cuboid((0, 0, 0), (10, 10, 10), "one"))
    two = Room("lug", cuboid((9.995, 0, 0), (20, 10, 10), "two"))
    # 0.005 mm over 100 mm2; 1e-9: sums in another order
    assert shared_volume(one.solid, two.solid) == pytest.approx(0.5, abs=1e-9)
    require_free([one], [two])


def test_lug_beside_the_cap_is_refused_and_further_out_is_not() -> None:
    lug = make_lug(LugSettings(), ALLOWANCE).solid
    near = Room("upper left lug", lug.moved(moved(30.0, 0.0, 8.0)), "straps.upper_share")
    with pytest.raises(DoesNotFit) as caught:
        require_free([HAND], [near])
    assert caught.value.where.key == "ports[0].tilt_deg"
    assert "straps.upper_share" in caught.value.fix
    require_free([HAND], [Room("lug", lug.moved(moved(70.0, 0.0, 8.0)))])


def test_part_at_the_nose_is_refused_with_the_place(marlo) -> None:
    # A plate 60 mm wide in front of the nose tip, 5 mm off it, may stand; 1 mm off it may not.
    x, y, z = marlo.landmarks["pronasale"]

    def plate(off: float) -> Room:
        solid = cuboid((x - 30.0, y - off - 4.0, z - 30.0), (x + 30.0, y - off, z + 30.0), "plate")
        return Room("holder 1", solid, "recipe.ports[0].front_mm")

    require_off_skin(marlo.face, [plate(5.0)])
    with pytest.raises(DoesNotFit) as caught:
        require_off_skin(marlo.face, [plate(-6.0)])
    assert caught.value.where.role == "holder 1"
    assert caught.value.where.key == "recipe.ports[0].front_mm"
    # The place lies on the plate, in front of the nose and not at one of its far corners.
    assert np.linalg.norm(np.array(caught.value.where.point)[[0, 2]] - [x, z]) < 35.0


def test_ring_at_the_nose_counts_although_its_corners_are_far(marlo) -> None:
    # A disc of 24 sides about the nose tip, 1 mm off it: only its middle is near.
    frame = moved(*marlo.landmarks["pronasale"])
    frame[:3, :3] = [[1, 0, 0], [0, 0, -1], [0, 1, 0]]
    disc = cylinder(20.0, 1.0, 5.0, "disc", 24).moved(frame)
    with pytest.raises(DoesNotFit, match="it needs 2 mm"):
        require_off_skin(marlo.face, [Room("holder 1", disc)])
    require_off_skin(marlo.face, [Room("holder 1", disc)], 0.2)


AWAY = cuboid((-5.0, 300.0, -5.0), (5.0, 310.0, 5.0), "body wall")


def forward(x: float) -> np.ndarray:
    """A port that looks forward, 120 mm in front of the face, x mm to the wearer's left."""
    frame = moved(x, -120.0, -40.0)
    frame[:3, :3] = [[1, 0, 0], [0, 0, -1], [0, 1, 0]]
    return frame


def test_ports_and_their_holders_in_each_other_s_way_are_refused_between_them() -> None:
    cap = make_holder(HolderSettings(), PortSettings(), ALLOWANCE)

    def two(apart: float) -> list[Placed]:
        return [Placed(PORT, forward(0.5 * apart)), Placed(PORT, forward(-0.5 * apart))]

    # Bare ports need a hand's room, 41 mm from the axis of one to the other's thread of 25 mm: 66 mm.
    with pytest.raises(DoesNotFit) as bare:
        require_room(two(60.0), [None, None], (AWAY, AWAY), [])
    assert abs(bare.value.where.point[0]) < 30.0
    assert bare.value.where.key.startswith("recipe.ports[")
    require_room(two(68.0), [None, None], (AWAY, AWAY), [])
    # Holders of 122 mm reach 61 mm from their axis and keep 4 mm round the rim: 126 mm between the axes.
    with pytest.raises(DoesNotFit) as held:
        require_room(two(124.0), [cap, cap], (AWAY, AWAY), [])
    assert "port 2" in held.value.what
    assert abs(held.value.where.point[0]) < 5.0
    require_room(two(128.0), [cap, cap], (AWAY, AWAY), [])


def test_holder_that_meets_the_body_s_wall_is_refused() -> None:
    cap = make_holder(HolderSettings(), PortSettings(), ALLOWANCE)
    x, y, z = forward(0.0)[:3, 3]
    wall = cuboid((x + 30.0, y - 30.0, z - 5.0), (x + 50.0, y, z + 5.0), "body wall")
    with pytest.raises(DoesNotFit, match="body wall") as caught:
        require_room([Placed(PORT, forward(0.0))], [cap], (wall, wall), [])
    assert caught.value.where.key == "recipe.holder.neck_mm"
    assert caught.value.where.point[0] > x + 25.0


def test_holder_at_the_face_is_refused(marlo) -> None:
    cap = make_holder(HolderSettings(), PortSettings(), ALLOWANCE)
    near = forward(0.0)
    near[:3, 3] = marlo.landmarks["pronasale"] + [0.0, 10.0, -20.0]
    with pytest.raises(DoesNotFit, match="from the skin") as caught:
        require_off_skin(marlo.face, outside_parts([Placed(PORT, near)], [cap]))
    assert caught.value.where.key == "recipe.ports[0].front_mm"


def test_lug_may_grow_out_of_a_boss_but_not_into_the_hose_on_it() -> None:
    port = make_port(PortSettings(kind="plain"), ALLOWANCE)
    lug = make_lug(LugSettings(), ALLOWANCE)

    def beside(height: float) -> StrapPoint:
        frame = forward(0.0)
        frame[:3, 3] = (frame @ [port.boss_radius_mm, 0.0, height, 1.0])[:3]
        return StrapPoint(frame, plane_wall(), 0)

    # Bar and fins end 15 mm over the origin at most: then nothing stands beside the hose.
    require_room([Placed(port, forward(0.0))], [None], (AWAY, AWAY), [(lug, beside(-16.0))])
    with pytest.raises(DoesNotFit, match="part on port 1"):
        require_room([Placed(port, forward(0.0))], [None], (AWAY, AWAY), [(lug, beside(6.0))])
