"""From shape and fittings to the body: rim and wall apart where that is the same, else all at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotFit, Where, plain_point
from ..face.surface import FaceSurface
from ..facepiece.body import Placed, band_face, inside_wall, placed_lugs, shell_solid, trimmed, with_fittings
from ..facepiece.rim_and_wall import joined_at_ring, rim_profile, rim_solid, ring_between, wall_mesh
from ..facepiece.shell import Shell
from ..facepiece.strap_points import StrapPoint
from ..hardware.lugs import LugParts
from ..mesh import Floats
from ..solids.boolean import Solid, main_piece
from ..solids.crossings import uncrossed
from .context import Context
from .shape import Shape

_OFF_SKIN_MM = 0.5  # along the rays; what comes nearer to the skin must be trimmed by it


@dataclass(frozen=True, eq=False)
class Built:
    """The body and what it was made of.

    Attributes
    ----------
    body : the finished body.
    on_skin : the part of it that lies on the skin; the body itself where it was not built in two.
    shell : the body without its fittings; where it was not built in two, not yet trimmed by the skin.
    lugs : lugs in place, without what would stand inside the wall.
    cut_open : through-holes that trimming by the skin made; none in a body that only lies on it, fewer than
        none where it took away such that lay below the skin.
    """

    body: Solid
    on_skin: Solid
    shell: Solid
    lugs: tuple[Solid, ...]
    cut_open: int


def build_body(
    context: Context, shape: Shape, ports: Sequence[Placed], lugs: Sequence[tuple[LugParts, StrapPoint]]
) -> Built:
    """The body of a shape with its ports and lugs, trimmed by the face.

    Parameters
    ----------
    context : the skin; its cache keeps face and trimmed rim.
    shape : the facepiece.
    ports, lugs : what is united with it; the first port is the one the wall runs into.

    Raises
    ------
    BadSolid, BooleanFailed : the shell crosses itself, or a boolean gave something that cannot be right.
    """
    face, shell, row = context.prepared.face, shape.shell, shape.band.grid.shape[1] - 1
    skin = context.cache.call(band_face, face, shape.band)
    inside = inside_wall(face, shell)
    standing = placed_lugs(lugs, inside)
    wall = wall_mesh(shell, row)
    bosses = [placed.parts.boss.mesh.moved(placed.frame) for placed in ports]
    meshes = [wall, *bosses, *(lug.mesh for lug in standing)]
    if all(_off_the_skin(face, mesh.vertices) for mesh in meshes):
        rim = context.cache.call(trimmed_rim, rim_profile(shell, row), skin)
        joined = joined_at_ring(rim.mesh, wall, ring_between(shell, row))
        if joined is not None:
            body = uncrossed(main_piece(with_fittings(joined, ports, inside, standing)))
            return Built(body, rim, joined, tuple(standing), rim.genus - 1)  # before, a ring
    plain = shell_solid(shell)
    whole = with_fittings(plain, ports, inside, standing)
    body = uncrossed(trimmed(whole, skin))
    return Built(body, body, plain, tuple(standing), body.genus - whole.genus)


def require_uncut(face: FaceSurface, shell: Shell, built: Built) -> None:
    """Refuse a body that the skin goes through, as a spike or a flap in the scan may.

    Raises
    ------
    DoesNotFit : `where.point` is the place of its outer side, or of the wall, deepest below the skin or
        nearest to it.
    """
    if built.cut_open <= 0:
        return
    wall = shell.face_side[:, shell.wall]
    places = np.concatenate([shell.outer_side.reshape(-1, 3), wall.reshape(-1, 3)])
    over = np.where(face.is_known(face.chart.place_of(places)[0]), -face.height_of(places), -np.inf)
    worst = int(np.argmax(over))
    raise DoesNotFit(
        f"The skin goes through the body; it stands {max(over[worst], 0.0):.1f} mm into it.",
        Where("chamber wall", point=plain_point(places[worst])),
        "Look at the scan there: cut off a spike or a flap, or scan again; else move the seal line.",
    )


def trimmed_rim(profile: Floats, skin: Solid) -> Solid:
    """The rim minus the face; a new wall comes with a new shell whose rim has the same profile."""
    return trimmed(rim_solid(profile), skin)


def _off_the_skin(face: FaceSurface, points: Floats) -> bool:
    """Whether none of the points (n, 3) comes near the skin."""
    low = face.height_of(points) < _OFF_SKIN_MM
    return not bool(face.is_known(face.chart.place_of(points[low])[0]).any())
