"""Ports, lugs and cuts on closed bodies: closed volumes, gauges, another boolean library, refusals."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from hardware.gauges import ALLOWANCE, require_printable_solid, section_radii, smallest_gap, turned
from igl.copyleft import cgal
from sealwright.errors import DoesNotFit
from sealwright.facepiece.axis_frame import frame_along
from sealwright.hardware.holder import make_holder
from sealwright.hardware.holder_layout import holder_layout
from sealwright.hardware.options import HolderSettings, LugSizes, PortSettings
from sealwright.hardware.ports import make_port
from sealwright.own_shapes.joining import cut, join, require_untouched
from sealwright.own_shapes.modelled import modelled_solid
from sealwright.own_shapes.standing_frame import Aim, standing_frame
from sealwright.own_shapes.standing_lug import StandingLug, standing_lug
from sealwright.own_shapes.standing_port import StandingPort, standing_port
from sealwright.solids.boolean import Solid, difference, main_piece, pieces, shared_volume, union
from sealwright.solids.primitives import cuboid, cylinder
from sealwright.solids.soundness import soundness_of

from .test_trim import tri

SQUARE = Aim()
PLAIN = PortSettings(kind="plain", bore_mm=20.0, length_mm=10.0, wall_mm=2.4, overlap_mm=3.0)
FRONT = np.array([0.0, -30.0, 0.0])
SIDES = 128
ROUND = SIDES / (2.0 * np.pi) * np.sin(2.0 * np.pi / SIDES)  # area of the polygon over that of its circle


@cache
def block() -> Solid:
    return cuboid((-40, -30, -40), (40, 10, 40), "block")


@cache
def cavity() -> Solid:
    return cuboid((-37, -27, -37), (37, 7, 37), "cavity")


@cache
def hollow() -> Solid:
    """A box with walls of 3 mm and a closed hollow."""
    return difference("hollow box", block(), cavity())


@cache
def ball(radius: float = 50.0) -> Solid:
    return modelled_solid(tri(trimesh.creation.icosphere(subdivisions=5, radius=radius))).solid


def port(body: Solid, settings: PortSettings = PLAIN, point=FRONT, aim: Aim = SQUARE) -> StandingPort:
    frame = standing_frame(body.mesh, np.asarray(point), aim, 10.0)
    return standing_port(body, make_port(settings, ALLOWANCE), frame)


def lug(body: Solid, point, aim: Aim = SQUARE) -> StandingLug:
    frame = standing_frame(body.mesh, np.asarray(point), aim, 10.0)
    return standing_lug(body, LugSizes(), frame, ALLOWANCE)


def turned_volume(profile: list[tuple[float, float]]) -> float:
    """Volume under a profile of radius and height turned about the axis: frusta of polygons."""
    return ROUND * sum(
        np.pi / 3.0 * (z1 - z0) * (r0 * r0 + r0 * r1 + r1 * r1) for (r0, z0), (r1, z1) in pairwise(profile)
    )


def boss_volume(low: float) -> float:
    """Of the plain boss from a height in its frame up: back at 45 degrees, wall 2.4 mm, edge 0.4 mm."""
    bore, outer = 10.0, 10.0 + 0.4 + 2.4
    inside = bore + 0.4 + 1.2
    at_low = inside + (low + 3.0) / 3.4 * (outer - inside)  # the cone ends 0.4 mm over the wall
    solid = turned_volume([(at_low, low), (outer, 0.4), (outer, 10.0), (outer - 0.4, 10.4)])
    return solid - turned_volume([(bore, low), (bore, 10.0), (bore + 0.4, 10.4)])


@pytest.mark.parametrize("name", ["block", "hollow"])
def test_bore_through_a_box(name: str) -> None:
    """Volume of a box with a plain port: boss added, bore taken away up to the first hollow."""
    body, wall = (block(), 40.0) if name == "block" else (hollow(), 3.0)
    found = port(body)
    made = join(body, [found], []).solid
    # it stands 0.1 mm out: what is pushed on it needs 0.5 mm over the wall, 0.4 mm of which its back gives
    assert found.stand.tube_mm == pytest.approx(0.1)
    wanted = body.volume + boss_volume(-0.1) - wall * ROUND * np.pi * 10.0**2
    assert made.volume == pytest.approx(wanted, abs=0.05)  # of 250,000 mm3
    assert found.stand.wall_mm == pytest.approx(wall)
    assert found.stand.bore_mm == pytest.approx(10.4 + 0.1 + wall)
    require_printable_solid(made)
    if name == "hollow":
        assert shared_volume(made, cavity()) < 1e-6  # nothing stands in the hollow


def test_boss_ends_in_a_thin_wall() -> None:
    """On a ball with a wall of 2 mm the boss, 3 mm deep, is kept out of the hollow; the bore goes through."""
    inner = ball(48.0)
    body = difference("shell", ball(), inner)
    made = join(body, [port(body, point=(0.0, -50.0, 0.0))], []).solid
    assert shared_volume(made, inner) < 1e-3
    assert len(pieces(made)) == 1
    assert soundness_of(made.mesh, "made").sound  # the hollow is open now
    middle = cylinder(9.5, 40.0, 70.0, "gauge").moved(frame_along(np.zeros(3), np.array([0.0, -1.0, 0.0])))
    assert shared_volume(made, middle) == 0.0


def test_cone_on_a_plate() -> None:
    """ISO 5356-1: 22.37 mm across, 15 mm from the tip (V), on a plate that leans by 30 degrees."""
    plate = cuboid((-40, -40, -4), (40, 40, 0), "plate").moved(
        frame_along(np.zeros(3), np.array([0.5, -(0.75**0.5), 0.0]))
    )
    found = port(plate, PortSettings(kind="cone", bore_mm=16.0), (0.0, 0.0, 0.0))
    assert found.placed.frame[:3, 2] == pytest.approx([0.5, -(0.75**0.5), 0.0], abs=1e-9)
    made = join(plate, [found], []).solid
    require_printable_solid(made)
    local = made.moved(np.linalg.inv(found.placed.frame))
    tip = found.placed.parts.length_mm
    assert 2.0 * section_radii(local, tip - 15.0)[1] == pytest.approx(22.37, abs=0.02)
    bore = 0.5 * found.placed.parts.facts.bore_diameter_mm
    assert section_radii(local, -1.0)[0] == pytest.approx(bore * np.cos(np.pi / SIDES), abs=1e-3)


def test_thread_takes_its_holder() -> None:
    """The holder of the catalogue goes on a thread that stands on a ball, and keeps off the ball."""
    body, thread, held = ball(), PortSettings(), HolderSettings()
    frame = standing_frame(body.mesh, np.array([0.0, -50.0, 0.0]), Aim(), 20.0)
    found = standing_port(body, make_port(thread, ALLOWANCE), frame, holder_layout(held, thread, ALLOWANCE))
    made = join(body, [found], []).solid
    holder = make_holder(held, thread, ALLOWANCE).body.moved(found.placed.frame)
    assert shared_volume(made, holder) < 1e-6
    way = found.placed.frame @ turned(2.0 * np.pi * 0.6 / 2.5, 0.6) @ np.linalg.inv(found.placed.frame)
    # at home the faces touch; 0.6 mm out, a pitch of 2.5 mm, the play is that of the flanks: 0.2 mm aside
    assert smallest_gap(made, holder.moved(way), 1.0) > 0.2 * np.cos(np.radians(45.0)) - 0.02
    assert smallest_gap(body, holder, 5.0) >= 0.5 - 1e-6
    require_printable_solid(made)


def test_automatic_axis_and_roll() -> None:
    """On a ball the axis is the radius; tilt and turn that are given replace their own part of it only."""
    way = np.array([0.3, -0.8, 0.52])
    way /= np.linalg.norm(way)
    assert standing_frame(ball().mesh, 50.0 * way, Aim(), 8.0)[:3, 2] == pytest.approx(way, abs=0.02)
    level = standing_frame(ball().mesh, 50.0 * way, Aim(tilt_deg=0.0), 8.0)[:3, 2]
    assert level == pytest.approx(np.array([0.3, -0.8, 0.0]) / np.hypot(0.3, 0.8), abs=0.02)
    rolled = standing_frame(block().mesh, FRONT, Aim(roll_deg=90.0), 5.0)
    assert rolled[:3, 1] == pytest.approx([-1.0, 0.0, 0.0], abs=1e-9)  # upwards, turned to the wearer's right


def test_lug_on_a_box() -> None:
    """It adds what stands off the wall, one slot, and its strap goes through; none of it in the hollow."""
    found = lug(hollow(), (40.0, -10.0, 0.0))
    made = join(hollow(), [], [found]).solid
    assert made.genus == hollow().genus + 1
    assert made.volume == pytest.approx(
        union("both", block(), found.solid).volume - cavity().volume, abs=1e-6
    )
    assert shared_volume(made, cavity()) == 0.0
    assert shared_volume(made, found.parts.webbing.moved(found.point.frame)) == 0.0
    assert found.wall_mm == pytest.approx(3.0)


def test_cut_by_another_library() -> None:
    """CGAL's exact booleans, by way of libigl."""
    body, tool = ball(), trimesh.creation.torus(30.0, 9.0, 64, 32)
    tool.apply_translation((0.0, -35.0, 6.0))
    made = cut(body, [modelled_solid(tri(tool)).solid])
    found = cgal.mesh_boolean(
        np.array(body.mesh.vertices), np.array(body.mesh.faces, np.int64),
        np.array(tool.vertices), np.array(tool.faces, np.int64), "minus",
    )  # fmt: skip
    assert made.volume == pytest.approx(trimesh.Trimesh(found[0], found[1]).volume, rel=1e-9)


def closets() -> Solid:
    """A block with a hollow only 0.3 mm high behind its front."""
    return difference("block", block(), cuboid((-37, -27, -37), (37, -26.7, 37), "slit"))


def thin() -> Solid:
    return difference("thin", block(), cuboid((-37, -29.4, -37), (37, 7, 37), "much"))


def ledge() -> Solid:
    return union("block", block(), cuboid((30, -80, -40), (40, -20, 40), "ledge"))


REFUSED = {
    "off the surface": (lambda: port(block(), point=(0, -60, 0)), "30.0 mm off the surface"),
    "beside the edge": (lambda: port(block(), point=(32, -30, 0)), "surface ends"),
    "leaning": (lambda: port(block(), aim=Aim(turn_deg=75.0)), "leans by|leans 75"),
    "narrow hollow": (lambda: port(closets()), "too narrow"),
    "thin wall": (lambda: port(thin()), "0.60 mm"),
    "high neighbour": (lambda: port(ledge(), point=(14, -30, 0)), "stands 50.0 mm high"),
    "meeting ports": (lambda: join(block(), [port(block()), port(block(), point=(18, -30, 0))], []), "takes"),
    "lug in a port": (lambda: join(block(), [port(block())], [lug(block(), (14, -30, 0))]), "takes"),
    "lug at an edge": (lambda: lug(block(), (0, -30, -38)), "ends under the lug"),
    "lug on a thin post": (lambda: lug(cylinder(6, -40, 40, "post"), (0, -6, 0)), "ends under the lug"),
    "cutter beside": (lambda: cut(block(), [cuboid((50, 0, 0), (60, 9, 9), "c")]), "as near as 10.0 mm"),
    "cutter takes all": (lambda: cut(block(), [cuboid((-50, -50, -50), (50, 50, 50), "c")]), "whole block"),
    "cutter parts it": (lambda: cut(block(), [cuboid((-50, -50, -5), (50, 50, 5), "c")]), "in 2 pieces"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_refusals_name_place_and_mend(case: str) -> None:
    made, words = REFUSED[case]
    with pytest.raises(DoesNotFit, match=words) as refusal:
        made()
    assert refusal.value.where.point is not None
    assert refusal.value.fix


def test_what_would_fit_does() -> None:
    """The edge is 8 mm away, the boss needs 12.4 mm: a port smaller by the millimetres told stands there."""
    with pytest.raises(DoesNotFit) as refusal:
        port(block(), point=(31.0, -30.0, 0.0))
    less = float(refusal.value.fix.split("smaller by ")[1].split()[0])
    smaller = PortSettings(kind="plain", bore_mm=PLAIN.bore_mm - less, length_mm=10.0)
    assert port(block(), smaller, (31.0, -30.0, 0.0)).stand.wall_mm == pytest.approx(40.0)


def test_a_kept_surface_is_not_taken() -> None:
    body = block()
    kept = body.mesh.face_normals[:, 1] < -0.99
    refined = body.with_short_edges(4.0)
    keep = refined.mesh.face_normals[:, 1] < -0.99
    side = cut(body, [cuboid((30, -5, -50), (50, 5, 50), "c")])
    require_untouched(body.mesh, side.mesh, kept, "front", "none")
    front = cut(body, [cuboid((-5, -50, -5), (5, -25, 5), "c")])
    with pytest.raises(DoesNotFit, match="some of the front"):
        require_untouched(refined.mesh, front.mesh, keep, "front", "Move it.")


def test_one_piece_has_no_closed_hollow() -> None:
    """What a lug shuts in behind it, or a trim, is filled: nobody could clean or dry it."""
    assert main_piece(hollow()).volume == pytest.approx(block().volume)


def test_pieces_keep_their_hollows() -> None:
    apart = cuboid((100, 0, 0), (101, 1, 1), "crumb")
    found = pieces(union("two", hollow(), apart))
    assert [one.volume for one in found] == pytest.approx([80 * 40 * 80 - 74 * 34 * 74, 1.0])
