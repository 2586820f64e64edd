"""Checked booleans: manifold3d reports trouble only as a status, so every operand and result is examined.

Promise: closed, outward operands in; one closed, outward result out, or a typed error naming the operand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from types import ModuleType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..errors import BackendUnavailable, BadSolid, BooleanFailed, Where, first_point
from ..mesh import Floats, TriMesh, edge_use

if TYPE_CHECKING:
    from manifold3d import Manifold

_NO_ROOM_MM3 = 1e-6  # a hollow that holds less is a crease of the modeller, closed in itself
_OLDEST = (3, 5)


def _backend() -> ModuleType:
    """The manifold3d module, imported on first use.

    Raises
    ------
    BackendUnavailable : it is not installed, or too old.
    """
    try:
        import manifold3d
    except ImportError as error:
        raise BackendUnavailable(
            f"The solid modeller manifold3d cannot be loaded ({error}).",
            Where("installation"),
            "Install it with 'pip install manifold3d', or reinstall the extension for this Blender.",
        ) from error
    if not hasattr(manifold3d, "Mesh64"):
        raise BackendUnavailable(
            "The installed manifold3d is too old: it has no 64-bit meshes.",
            Where("installation"),
            f"Install manifold3d {_OLDEST[0]}.{_OLDEST[1]} or later.",
        )
    module: ModuleType = manifold3d
    return module


@dataclass(frozen=True, eq=False)
class Solid:
    """A closed, outward solid in the modeller.

    Attributes
    ----------
    role : what it is, in the maker's words.
    native : the manifold3d object.

    Build one with `solid_of`.
    """

    role: str
    native: Manifold

    @property
    def volume(self) -> float:
        """Volume, mm3."""
        return float(self.native.volume())

    @property
    def genus(self) -> int:
        """Number of handles (through-holes) of the boundary surface."""
        return int(self.native.genus())

    @cached_property
    def mesh(self) -> TriMesh:
        """The boundary as triangles, outward."""
        raw = self.native.to_mesh64()
        vertices = np.array(raw.vert_properties[:, :3], dtype=np.float64)
        return TriMesh(np.ascontiguousarray(vertices), np.array(raw.tri_verts, dtype=np.int32))

    def moved(self, transform: Floats) -> Solid:
        """The solid under a rigid or scaling 4x4 transform."""
        return Solid(self.role, self.native.transform(np.asarray(transform, dtype=np.float64)[:3, :4]))

    def with_short_edges(self, longest_mm: float) -> Solid:
        """The same solid with no edge longer than a length.

        The modeller sorts triangles by boxes: a long one at a slant meets thousands of others in vain.
        """
        return Solid(self.role, self.native.refine_to_length(longest_mm))

    def without_slivers(self, shortest_mm: float) -> Solid:
        """The same solid without edges shorter than a length, and the slivers that hang on them."""
        return Solid(self.role, self.native.simplify(shortest_mm))

    def as_one(self) -> Solid:
        """The same solid without memory of what it was made of: slivers between the parts can then go."""
        return Solid(self.role, self.native.as_original())

    def named(self, role: str) -> Solid:
        """The same solid under another name."""
        return Solid(role, self.native)


def solid_of(mesh: TriMesh, role: str) -> Solid:
    """Take a closed, outward mesh into the modeller.

    Raises
    ------
    BadSolid : open or non-manifold edges, inside out, or refused by the modeller; `where` has the edges.
    """
    m3 = _backend()
    # The modeller wants arrays it may write to, so it gets copies.
    native = m3.Manifold(m3.Mesh64(mesh.vertices.copy(), mesh.faces.astype(np.uint64)))
    if native.status() != m3.Error.NoError or native.is_empty():
        raise _refused(mesh, role, native.status().name)
    if native.volume() <= 0:
        raise BadSolid(
            f"The {role} is inside out (volume {native.volume():.1f} mm3).",
            Where(role, point=first_point(mesh.vertices[:1])),
            "Flip its normals so that they face outward.",
        )
    return Solid(role, native)


def _refused(mesh: TriMesh, role: str, status: str) -> BadSolid:
    """Why the modeller refuses a mesh, with the edges when they are the reason."""
    edges, forward, backward = edge_use(mesh.faces)
    bad = np.flatnonzero((forward != 1) | (backward != 1))
    what = f"The {role} is refused by the solid modeller: {status}."
    point = first_point(mesh.vertices[:1])
    indices: tuple[int, ...] = ()
    if len(bad):
        what = f"The {role} is not closed: {len(bad)} edges are open, doubled or turned against each other."
        point = first_point(mesh.vertices[edges[bad]].mean(axis=1))
        indices = tuple(int(i) for i in edges[bad[:100]].ravel())
    return BadSolid(
        what,
        Where(role, point=point, indices=indices),
        "Run the repair step on it, or undo the last hand edit.",
    )


def _checked(result: Manifold, role: str, low: float, high: float, operands: Sequence[Solid]) -> Solid:
    """The result of a boolean, or BooleanFailed when status, emptiness or volume cannot be right."""
    m3 = _backend()
    names = ", ".join(operand.role for operand in operands)
    slack = 1e-6 * max(high, 1.0)  # mm3: float64 summation over up to a few million triangles
    if result.status() != m3.Error.NoError:
        problem = f"status {result.status().name}"
    elif result.is_empty():
        problem = "nothing is left"
    elif not low - slack <= result.volume() <= high + slack:
        problem = f"volume {result.volume():.1f} mm3 lies outside {low:.1f} to {high:.1f}"
    else:
        return Solid(role, result)
    raise BooleanFailed(
        f"Making the {role} from {names} failed: {problem}.",
        Where(role, point=first_point(operands[0].mesh.vertices[:1])),
        "Check that the parts overlap as they should and do not swallow each other.",
    )


def union(role: str, *solids: Solid) -> Solid:
    """Solids joined into one.

    Raises
    ------
    BooleanFailed : the result cannot be right.
    """
    m3 = _backend()
    result = m3.Manifold.batch_boolean([s.native for s in solids], m3.OpType.Add)
    volumes = [s.volume for s in solids]
    return _checked(result, role, max(volumes), sum(volumes), solids)


def difference(role: str, body: Solid, *cutters: Solid) -> Solid:
    """The body minus the cutters.

    Raises
    ------
    BooleanFailed : the result cannot be right.
    """
    m3 = _backend()
    result = m3.Manifold.batch_boolean([body.native, *[c.native for c in cutters]], m3.OpType.Subtract)
    low = body.volume - sum(c.volume for c in cutters)
    return _checked(result, role, max(low, 0.0), body.volume, [body, *cutters])


def intersection(role: str, first: Solid, second: Solid) -> Solid:
    """What two solids share.

    Raises
    ------
    BooleanFailed : the result cannot be right; also when they share nothing.
    """
    return _checked(
        first.native ^ second.native, role, 0.0, min(first.volume, second.volume), [first, second]
    )


def triangles_between(loops: Sequence[Floats]) -> NDArray[np.int32]:
    """Triangles (m, 3) that fill plane polygons, as indices of all their points one after the other.

    Parameters
    ----------
    loops : (k, 2) corners each; outer ones counter-clockwise, holes clockwise.
    """
    return np.asarray(
        _backend().triangulate([np.asarray(loop, dtype=np.float64) for loop in loops]), np.int32
    )


def shared_volume(first: Solid, second: Solid) -> float:
    """Volume two solids share, mm3; zero when they are apart."""
    return float((first.native ^ second.native).volume())


def pieces(solid: Solid) -> list[Solid]:
    """The separate pieces of a solid, each with the closed hollows in it, largest first."""
    parts = [Solid(solid.role, part) for part in solid.native.decompose()]
    whole = sorted((part for part in parts if part.volume >= 0.0), key=lambda part: part.volume)
    # The modeller gives the surface of a hollow as a piece of its own, inside out.
    hollows = [solid_of(part.mesh.flipped(), "hollow") for part in parts if part.volume < -_NO_ROOM_MM3]
    for hollow in sorted(hollows, key=lambda part: -part.volume):
        around = (n for n, one in enumerate(whole) if shared_volume(one, hollow) > 0.5 * hollow.volume)
        owner = next(around, None)
        if owner is not None:
            whole[owner] = difference(solid.role, whole[owner], hollow)
    return sorted(whole, key=lambda part: -part.volume)


def filled(solid: Solid) -> tuple[Solid, float]:
    """A solid without the closed hollows in it, and what they held, mm3."""
    surfaces = [Solid(solid.role, part) for part in solid.native.decompose()]
    hollow = -sum(part.volume for part in surfaces if part.volume < 0.0)
    return (union(solid.role, *(s for s in surfaces if s.volume >= 0.0)), hollow) if hollow else (solid, 0.0)


def split_pieces(first: Solid, second: Solid) -> tuple[list[Solid], list[Solid]]:
    """The separate pieces of what a solid shares with a second and of what it does not, largest first."""
    shared, rest = first.native.split(second.native)
    return pieces(Solid(first.role, shared)), pieces(Solid(first.role, rest))


def main_piece(solid: Solid, crumb_share: float = 0.02) -> Solid:
    """The one real piece of a solid, dropping crumbs that a trim leaves and filling closed hollows in it.

    Parameters
    ----------
    crumb_share : the largest share of the volume that may be dropped.

    Raises
    ------
    BooleanFailed : a second piece is too large to be a crumb.
    """
    parts = pieces(filled(solid)[0])
    dropped = sum(part.volume for part in parts[1:])
    if dropped > crumb_share * solid.volume:
        raise BooleanFailed(
            f"The {solid.role} fell into {len(parts)} pieces; the second has {parts[1].volume:.0f} mm3.",
            Where(solid.role, point=first_point(parts[1].mesh.vertices[:1])),
            "Widen the band or move the seal line so that the part stays in one piece.",
        )
    return parts[0].named(solid.role)
