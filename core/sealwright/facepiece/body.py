"""The body: shell trimmed by the face, united with port bosses and lugs, opened by the bores."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ..errors import Remark, Where, plain_point
from ..face.face_solid import face_solid
from ..face.stand_off import StandOff
from ..face.surface import FaceSurface
from ..hardware.lugs import LugParts
from ..hardware.port_parts import THROAT_LIP_MM
from ..hardware.ports import PortParts
from ..mesh import Floats, TriMesh
from ..solids.boolean import (
    Solid,
    difference,
    main_piece,
    shared_volume,
    solid_of,
    split_pieces,
    union,
)
from ..solids.primitives import cuboid
from .contact_band import ContactBand
from .shell import Shell, grid_quads, quads_to_triangles, require_unfolded, shell_mesh
from .strap_points import StrapPoint

_MERGE_MM = 1e-6
_GRAZE_MM3 = 1.0  # rooms may graze
_AMID = 0.4  # of the way through the wall
_HAIR_MM3, _HAIR_MM = 2.0, 0.3  # what a lug shares with the wall or shows of itself in passing; its room

SHORT_MM = 16.0
"""Edges of a lug when it meets the wall, whose own are about 2 mm."""


@dataclass(frozen=True, eq=False)
class Placed:
    """A part and where it goes.

    Attributes
    ----------
    parts : in its own frame.
    frame : 4x4, part frame to face frame.
    key : dotted recipe key that moves it.
    alone : what hangs on the first port must come off before its own parts can.
    """

    parts: PortParts
    frame: Floats
    key: str = "recipe.ports[0]"
    alone: bool = False


def shell_solid(shell: Shell) -> Solid:
    """The shell as a solid that still reaches below the skin.

    Raises
    ------
    BadSolid : the shell crosses itself.
    """
    require_unfolded(shell)
    return solid_of(shell_mesh(shell), "body shell")


def trimmed(body: Solid, face: Solid) -> Solid:
    """A shell or body minus the face, in one piece.

    Where both nearly coincide the modeller may leave triangles thinner than a thousandth that cross by as
    much; merging points closer than `_MERGE_MM` takes them away.

    Raises
    ------
    BooleanFailed : it falls apart.
    """
    return main_piece(difference("body", body, face).without_slivers(_MERGE_MM))


def band_face(face: FaceSurface, band: ContactBand) -> Solid:
    """The face solid round a contact band, at the band's stand-off."""
    return face_solid(face, band.grid.reshape(-1, 3), band.stand_off)


def chamber_void(face: FaceSurface, chamber_side: Floats) -> Solid:
    """The air of the chamber: inside the wall, in front of the skin, up to the back of the port boss.

    Its volume is the dead space at rest, without bore and holder. ``chamber_side`` (n, k, 3) is the shell's,
    which does not depend on the wall's thickness.
    """
    skin = face_solid(face.thinned(2), chamber_side[:, 0], StandOff(), 0.75, filled=True)
    return main_piece(difference("chamber", _hull(face, chamber_side), skin), 0.2)


def inside_wall(face: FaceSurface, shell: Shell) -> Solid:
    """What lies behind the middle of the wall, chamber and head: no lug or further port reaches into it.

    What is cut by it ends amid the wall and not on its surface, where the modeller would have to tell two
    surfaces apart that are the same. Every second point is enough: chords of 5 mm lie within 0.3 mm of the
    tightest wall, a radius of 10 mm, and so in the wall.
    """
    first, last = shell.band_end, shell.face_side.shape[1] - 1
    rows = np.append(np.arange(first, last, 2), last)
    face_side, outer_side = (side[::2, rows] for side in (shell.face_side, shell.outer_side))
    return _hull(face, face_side + _AMID * (outer_side - face_side))


def _hull(face: FaceSurface, rows: Floats) -> Solid:
    """The room behind a sheet (n, k, 3) from the band to the port, down into the head."""
    deep = face.chart.centre + 0.6 * (rows[:, 0] - face.chart.centre)
    loop = np.concatenate([deep[:, None], rows], axis=1)
    stations, length = loop.shape[:2]
    sides = quads_to_triangles(grid_quads(stations, length), stations)
    points = np.concatenate([loop.reshape(-1, 3), deep.mean(0)[None], rows[:, -1].mean(0)[None]])
    ring = np.arange(stations) * length
    after = np.roll(ring, -1)
    back, front = len(points) - 2, len(points) - 1
    caps = [
        np.stack([np.full(stations, back), after, ring], axis=1),
        np.stack([np.full(stations, front), ring + length - 1, after + length - 1], axis=1),
    ]
    mesh = TriMesh(points, np.vstack([sides, *caps]).astype(np.int32))
    return solid_of(mesh if mesh.volume > 0 else mesh.flipped(), "chamber")


def with_fittings(
    shell: Solid, ports: Sequence[Placed], inside: Solid | None, lugs: Sequence[Solid] = ()
) -> Solid:
    """Unite a shell with port bosses and lugs, and open the bores.

    Parameters
    ----------
    shell : trimmed by the face or not.
    ports : the first is the one the chamber wall runs into.
    inside : what no further boss may fill, see `inside_wall`; None when none could.
    lugs : in place, see `placed_lugs`.

    Raises
    ------
    BooleanFailed : a union or cut gave something that cannot be right.
    """
    open_already = bool(ports) and _clear_of_bore(shell, ports[0])
    added = [placed.parts.boss.moved(placed.frame).named("port boss") for placed in ports]
    if open_already:
        added[0] = ports[0].parts.bored.moved(ports[0].frame).named("port boss")
    if inside is not None:  # a further port stands on the wall; only the first may reach into the chamber
        for number, placed in enumerate(ports[1:], start=1):
            if not placed.parts.reaches_in:
                added[number] = outside_only(added[number], inside)
            if placed.parts.foot is not None:
                foot = difference("foot", placed.parts.foot.moved(placed.frame), inside)
                added[number] = union("port boss", added[number], foot)
    # Small with small first: the modeller walks through all of the largest one in each union.
    whole = [clear_of_hairs(lug, shell) for lug in lugs]
    small = [union("fittings", *added, *whole)] if added or whole else []
    body = union("body", shell, *small)
    left = ports[1:] if open_already else ports
    bores = [placed.parts.bore.moved(placed.frame).named("bore") for placed in left]
    return difference("body", body, *bores) if bores else body


def outside_only(boss: Solid, inside: Solid) -> Solid:
    """A boss without what would stand inside the wall.

    Raises
    ------
    BooleanFailed : most of it would.
    """
    return main_piece(difference(boss.role, boss, inside), 0.5)


def placed_lugs(lugs: Sequence[tuple[LugParts, StrapPoint]], inside: Solid | None) -> list[Solid]:
    """Lugs in place, without what would stand inside the wall, see `inside_wall` (None when nothing could).

    Raises
    ------
    BooleanFailed : most of a lug would.
    """
    solids = [parts.solid.moved(place.frame).named("lug").with_short_edges(SHORT_MM) for parts, place in lugs]
    return [lug if inside is None else main_piece(difference("lug", lug, inside), 0.5) for lug in solids]


def clear_of_hairs(lug: Solid, shell: Solid) -> Solid:
    """A lug in place without the places where it touches the wall by a hair, or comes out of it again by one.

    The first would close a hole behind them; the second hang over in the print.
    """
    shared, out = split_pieces(lug, shell)
    for piece in (*shared, *out[1:]):
        if piece.volume < _HAIR_MM3:
            low, high = piece.mesh.bounds
            lug = main_piece(difference("lug", lug, cuboid(low - _HAIR_MM, high + _HAIR_MM, "hair")))
    return lug


def _clear_of_bore(shell: Solid, port: Placed) -> bool:
    """Whether the wall keeps out of a port's bore, which then need not be cut through the whole body.

    The wall runs into the boss wider than the bore by `THROAT_LIP_MM`; its chords cut in by much less than
    half of that.
    """
    local = (shell.mesh.vertices - port.frame[:3, 3]) @ port.frame[:3, :3]
    reached = local[:, 2] > port.parts.bore.mesh.bounds[0, 2] - 1.0
    radius = np.hypot(local[reached, 0], local[reached, 1])
    return bool((radius > port.parts.seat_radius_mm - 0.5 * THROAT_LIP_MM).all())


def meeting_lugs(lugs: Sequence[tuple[LugParts, StrapPoint]], standing: Sequence[Solid]) -> list[Remark]:
    """Remarks on lugs that run into each other, as four may on a small or steep body.

    Parameters
    ----------
    lugs : lug parts and their places.
    standing : the same lugs in place, see `placed_lugs`.
    """
    remarks = []
    for (first, one), (second, two) in combinations(enumerate(standing), 2):
        shared = shared_volume(one, two)
        if shared > _GRAZE_MM3:
            place = lugs[second][1]
            text = (
                f"Lugs {first + 1} and {second + 1} run into each other ({shared:.0f} mm3). See that both "
                "straps go through; else move a pair, take narrower webbing, or two lugs."
            )
            where = Where(
                "lug",
                point=plain_point(place.frame[:3, 3]),
                key="straps.lower_share",
                indices=(place.station,),
            )
            remarks.append(Remark("warning", text, where))
    return remarks


def crowded_lugs(lugs: Sequence[tuple[LugParts, StrapPoint]], ports: Sequence[Placed]) -> list[Remark]:
    """Remarks on lugs that stand where the hand turns the part on a port; the part itself still fits."""
    remarks = []
    for parts, place in lugs:
        solid = parts.solid.moved(place.frame)
        for number, placed in enumerate(ports, start=1):
            shared = shared_volume(solid, placed.parts.keep_clear.moved(placed.frame))
            if shared > _GRAZE_MM3:
                text = (
                    f"A strap lug takes {shared:.0f} mm3 of the room for fingers at port "
                    f"{number}. Move the lug nearer to the band, or the port forward, if that is too tight."
                )
                remarks.append(
                    Remark(
                        "warning",
                        text,
                        Where("lug", point=plain_point(place.frame[:3, 3]), indices=(place.station,)),
                    )
                )
    return remarks
