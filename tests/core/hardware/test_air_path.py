"""Watertight path on the solids of a whole mask: the air from filter to face is one void, closed at its ends.

Everything that holds air back is united: the skin (pressed 0.05 mm into the band, as a strap does), the body,
the squeezed ring, the holder, and the medium. What is left of a box round it falls into pieces; which of them
belong together is the modeller's decomposition, looked at once more by trimesh.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
import trimesh
from bare import bare_recipe
from predict.wearers import finished
from sealwright.face.face_solid import face_solid
from sealwright.face.stand_off import StandOff
from sealwright.hardware.allowance import allowance_of
from sealwright.hardware.glue_groove import groove_volume_mm3
from sealwright.hardware.holder import HolderParts, make_holder
from sealwright.hardware.outlines import seat_of
from sealwright.solids.boolean import Solid, difference, pieces, shared_volume, union
from sealwright.solids.primitives import cuboid, cylinder, tube

from .gauges import turned

RECIPE = bare_recipe()  # of the finished design
LIFT_MM = 0.05  # the cap is not screwed quite home, so that only the ring can hold the joint
PRESS_MM = 0.05  # what the skin is pressed into the band, and the medium into its glue


@cache
def cap() -> HolderParts:
    return make_holder(RECIPE.holder, RECIPE.ports[0].connection, allowance_of(RECIPE.allowance))


@cache
def things() -> dict[str, Solid]:
    """All that holds air back, in the face frame, by name."""
    design, (port,) = finished(), finished().ports
    gland, z = port.parts.facts.gland.groove, port.parts.length_mm
    inner, outer = 0.5 * gland.inside_mm, 0.5 * gland.outside_mm
    top = z + gland.depth_mm + LIFT_MM + 0.01
    ring = tube(inner - 0.01, outer + 0.01, z - 0.01, top, "squeezed ring", 128)
    near = design.shell.face_side[:, design.shell.contact].reshape(-1, 3)
    skin = face_solid(design.prepared.face, near, StandOff(PRESS_MM), 0.5, filled=True)
    # A rod out of the back of the box, so that the outside has one boundary and not two.
    rod = cylinder(15.0, 0.0, 300.0, "neck", 48)
    back = np.eye(4)
    back[:3, :3] = [[1, 0, 0], [0, 0, 1], [0, -1, 0]]
    back[:3, 3] = design.prepared.face.chart.centre - [0.0, 25.0, 0.0]
    return {
        "body": design.parts["body"],
        "worn body": union("worn body", design.parts["body"], skin, rod.moved(back)),
        "ring": ring.moved(port.frame),
        "holder": cap().body.moved(port.frame @ turned(0.0, LIFT_MM)),
        "medium": cap().medium.moved(port.frame @ turned(0.0, LIFT_MM - PRESS_MM)),
    }


def voids(*without: str) -> list[Solid]:
    """Pieces of the air round the assembly, without some of its parts; largest first."""
    base = "body" if "head" in without else "worn body"
    kept = [solid for name, solid in things().items() if name not in (*without, "body", "worn body")]
    kept.append(things()[base])
    room = cuboid((-110.0, -190.0, -130.0), (110.0, 95.0, 100.0), "room")
    return pieces(difference("air", room, union("assembly", *kept)))


def probes() -> dict[str, Solid]:
    """Little balls' worth of air: in the middle of the chamber, of the bore, and behind the grid."""
    (port,) = finished().ports
    axis, z = port.frame, port.parts.length_mm
    return {
        "chamber": cylinder(1.5, -9.0, -6.0, "chamber", 24).moved(axis),
        "bore": cylinder(1.5, 0.4 * z, 0.6 * z, "bore", 24).moved(axis),
        "holder": cylinder(1.5, z + 1.0, z + 4.0, "holder", 24).moved(axis),
        "outside": cuboid((-105.0, -185.0, 85.0), (-100.0, -180.0, 90.0), "outside"),
    }


def holding(air: list[Solid], name: str) -> int:
    """Number of the piece of air that holds a probe whole."""
    probe = probes()[name]
    found = [n for n, void in enumerate(air) if shared_volume(void, probe) > 0.999 * probe.volume]
    assert len(found) == 1, name
    return found[0]


@cache
def closed() -> list[Solid]:
    return voids()


def test_air_from_filter_to_face_is_one_void() -> None:
    air = closed()
    inside = holding(air, "chamber")
    assert holding(air, "bore") == holding(air, "holder") == inside
    assert holding(air, "outside") == 0 != inside
    mesh = trimesh.Trimesh(air[inside].mesh.vertices, air[inside].mesh.faces, process=False)
    assert mesh.is_watertight
    assert mesh.body_count == 1


def test_its_volume_is_that_of_its_parts() -> None:
    """Chamber by the design's own void, bore as a cylinder, holder by the air it is cut with."""
    air, (port,) = closed(), finished().ports
    radius = 0.5 * port.parts.facts.bore_diameter_mm
    share = math.sin(2 * math.pi / 128) / (2 * math.pi / 128)
    expected = finished().void.volume + math.pi * radius**2 * share * port.parts.length_mm
    expected += cap().facts.holder_air_mm3
    # The rest: the void ends at the back of the boss, which is a cone; skin and medium are pressed in.
    assert air[holding(air, "chamber")].volume == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize("name", ["head", "ring", "medium"])
def test_without_any_one_part_it_is_open(name: str) -> None:
    air = voids(name)
    assert holding(air, "chamber") == holding(air, "outside")


def test_what_else_is_closed_are_crumbs() -> None:
    """Pockets that lie in no breathing way: in the groove of the medium, between thread and ring."""
    air = closed()
    rest = [void.volume for n, void in enumerate(air) if n not in (0, holding(air, "chamber"))]
    groove = groove_volume_mm3(seat_of(RECIPE.holder), RECIPE.holder)
    assert sum(v for v in rest if v > 0.0) < 1.1 * groove
