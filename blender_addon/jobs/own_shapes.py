# SPDX-License-Identifier: GPL-3.0-or-later
"""From what the maker drew or modelled to the core: shells, trimmed models, chambers of an own form."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ..core.errors import BadOutline, BadSolid, Where
from ..model.convert import attribute_vectors, object_to_trimesh, same_corners
from ..model.own_objects import (
    GRID,
    OUT,
    OWN,
    SHELL,
    TRIM,
    cage_object,
    cutters_of,
    lines_of,
    model_object,
    outline_object,
)
from ..model.placing import part_place
from ..model.wearers import wearer_mm

if TYPE_CHECKING:
    import bpy
    from numpy.typing import NDArray

    from ..core.designing.context import ChamberForm
    from ..core.designing.design import Design
    from ..core.designing.prepared import Prepared
    from ..core.mesh import TriMesh
    from ..core.progress import Job
    from ..core.recipe import Recipe
    from ..model.wearers import SEALWRIGHT_PG_wearer

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Given:
    """What the maker drew or modelled, in mm of the scan frame, which is the world.

    Attributes
    ----------
    lines : (k, 3) outline, and holes.
    model : closed; None where none is trimmed.
    cutters : closed.
    cage : outer form of the chamber as it is seen; None lets the program choose.
    out : (s, r, 3) directions of the cage's points while it is still the grid that was taken out; else None.
    """

    lines: tuple[Floats, ...] = ()
    model: TriMesh | None = None
    cutters: tuple[TriMesh, ...] = ()
    cage: TriMesh | None = None
    out: Floats | None = None

    def cuts(self, prepared: Prepared) -> list[TriMesh]:
        """The cutters in the face frame."""
        return [cutter.moved(prepared.scan_to_design) for cutter in self.cutters]

    def form(self, prepared: Prepared) -> ChamberForm | None:
        """The outer form in the face frame, at printed size like the parts."""
        if self.cage is None:
            return None
        back = np.linalg.inv(part_place(prepared.scan_to_design, 1.0))
        mesh = self.cage.moved(back)
        if self.out is None:
            return mesh
        from ..core.facepiece.chamber_cage import Cage

        out = self.out @ back[:3, :3].T
        out /= np.linalg.norm(out, axis=-1, keepdims=True)
        return Cage(mesh.vertices.reshape(out.shape), out)


def given_shapes(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> Given:
    """What the design of the wearer's kind is made of.

    Raises
    ------
    BadOutline, BadSolid : a shell has no outline, or there is no model to trim.
    InEditMode, NoSurface : a mesh is being edited, or has no faces.
    """
    mm, graph, kind = wearer_mm(context, wearer), context.evaluated_depsgraph_get(), wearer.recipe.kind
    lines = tuple(line * mm for line in lines_of(outline_object(context, wearer)))
    model, cage = model_object(context, wearer), cage_object(context, wearer)
    if kind == SHELL and not lines:
        raise BadOutline("The shell has no outline.", Where("outline"), "Draw one in the Body panel.")
    if kind == TRIM and model is None:
        fix = "Select the mesh that you modelled and press Use Selected as Model (Body panel)."
        raise BadSolid("There is no model to trim.", Where("model"), fix)
    cuts = enumerate(cutters_of(context, wearer), start=1)
    given = Given(
        lines,
        None if model is None else object_to_trimesh(model, graph, mm, "model"),
        tuple(object_to_trimesh(obj, graph, mm, f"cutter {number}") for number, obj in cuts),
    )
    if cage is None:
        return given
    mesh = object_to_trimesh(cage, graph, mm, "chamber cage")
    return replace(given, cage=mesh, out=_directions(cage, mesh))


def _directions(cage: bpy.types.Object, mesh: TriMesh) -> Floats | None:
    """Directions (s, r, 3) of a cage's points in the world, while it has the faces it was taken out with."""
    data: Any = cage.data
    grid = data.get(GRID)
    if grid is None or len(mesh.vertices) != grid[0] * grid[1] or not same_corners(data):
        return None
    out = attribute_vectors(data, OUT) @ np.array(cage.matrix_world.to_3x3(), dtype=np.float64).T
    return np.asarray(out.reshape(int(grid[0]), int(grid[1]), 3))


def own_design(prepared: Prepared, recipe: Recipe, given: Given) -> Job[Design]:
    """The design of a kind that is nothing else than the maker's own shape.

    Raises
    ------
    DesignError : as for the core's `shell_design` and `trim_design`.
    """
    from ..core.designing.own import shell_design, trim_design
    from ..core.own_shapes.outline_file import DrawnLines

    cuts = given.cuts(prepared)
    if recipe.kind == SHELL:
        drawn = DrawnLines(given.lines[0], given.lines[1:])
        return (yield from shell_design(prepared, recipe, drawn, cuts))
    assert given.model is not None
    return (yield from trim_design(prepared, recipe, given.model.moved(prepared.scan_to_design), cuts))


def is_own(recipe: Recipe) -> bool:
    """Whether a design is nothing else than the maker's own shape."""
    return recipe.kind in OWN
