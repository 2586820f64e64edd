# SPDX-License-Identifier: GPL-3.0-or-later
"""Results into the file: new or replaced objects in the wearer's collection, all at once, hand edits kept."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import bpy
import numpy as np
from mathutils import Matrix

from ..core.errors import Where
from ..model.convert import InEditMode, fill_mesh, geometry_stamp, shade_flat
from ..model.placing import rigid_part
from ..model.wearers import TAG, tagged, wearer_collection
from .legend import CLASS_COLOURS, linear_colours, linear_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ..model.wearers import SEALWRIGHT_PG_wearer
    from .legend import MapLegend

STAMP = "sealwright_stamp"  # on mesh data of ours: hash of its shape as it was written
FROM = "sealwright_from"  # on data of ours: print of what it was made from, see `model.fingerprint`
PLACE = "sealwright_place"  # on mesh data of ours: where its object was put, 4x4 row by row
LEGEND = "sealwright_legend"


@dataclass(frozen=True)
class Part:
    """Something to write into the file.

    Attributes
    ----------
    tag : what it is for us, "part:body"; the object keeps it when it is renamed.
    label : the object's name after the wearer's.
    points : (n, 3) mm, face frame.
    faces : (m, 3) or (m, 4).
    values : (n,) measured at the points, stored as the attribute "value" and as colours; None without.
    legend : what the colours mean; needed with values.
    smooth : shade smooth.
    classes : (n,) 0 where the value counts, else the number of one of the legend's classes, from 1.
    colour : sRGB of the part in the view; None leaves it grey.
    rendered : belongs in the maker's own pictures.
    """

    tag: str
    label: str
    points: NDArray[np.float64]
    faces: NDArray[Any]
    values: NDArray[Any] | None = None
    legend: MapLegend | None = None
    smooth: bool = True
    classes: NDArray[Any] | None = None
    colour: tuple[float, float, float] | None = None
    rendered: bool = False


def commit_parts(
    context: bpy.types.Context,
    wearer: SEALWRIGHT_PG_wearer,
    parts: Sequence[Part],
    matrix: NDArray[np.float64],
    made_from: str,
    drop: tuple[str, ...] = (),
) -> list[str]:
    """Write parts into the wearer's collection.

    Parameters
    ----------
    made_from : print of the inputs; kept with each part.
    matrix : 4x4, face frame in mm to world units.
    drop : what has a tag that begins so and is not written now is removed (hand edits are kept).

    Returns
    -------
    kept : names of objects that were edited by hand, set aside instead of overwritten.

    Raises
    ------
    InEditMode : one of the objects to replace is being edited; nothing was changed.
    """
    old = dict(tagged(wearer, ""))
    for part in parts:
        if part.tag in old and old[part.tag].mode != "OBJECT":
            raise InEditMode(
                f"{old[part.tag].name} is being edited.",
                Where("part", key=part.tag),
                "Leave edit mode first (Tab).",
            )
    home = wearer_collection(context, wearer)
    scale = float(np.cbrt(np.linalg.det(matrix[:3, :3])))
    place = Matrix(rigid_part(matrix).tolist())
    kept = []
    for part in parts:
        obj = old.pop(part.tag, None)
        if obj is not None and edited_by_hand(obj):
            kept.append(set_aside(obj))
            obj = None
        mesh = _mesh_for(obj, f"{wearer.name} {part.label}")
        _fill(mesh, part, scale)
        mesh[STAMP], mesh[FROM] = geometry_stamp(mesh), made_from
        mesh[PLACE] = [c for row in place.row for c in row]
        if part.colour is not None and not mesh.materials:
            mesh.materials.append(material_of(part.label, part.colour))
        if obj is None:
            obj = bpy.data.objects.new(mesh.name, mesh)
            obj[TAG] = part.tag
            home.objects.link(obj)
        elif obj.data != mesh:
            obj.data = mesh
        obj.matrix_world, obj.hide_render = place, not part.rendered
    for tag, obj in old.items():
        if drop and tag.startswith(drop):
            if edited_by_hand(obj):
                kept.append(set_aside(obj))
            else:
                remove_object(obj)
    return kept


def material_of(label: str, colour: tuple[float, float, float]) -> bpy.types.Material:
    """The material that shows a part in its colour; the maker may change it, or give the part another."""
    name = f"Sealwright {label}"
    known = bpy.data.materials.get(name)
    if known is None:
        known = bpy.data.materials.new(name)
        known.diffuse_color = tuple(linear_of(np.array([colour]))[0])  # type: ignore[assignment]
    return known


def _mesh_for(obj: bpy.types.Object | None, name: str) -> bpy.types.Mesh:
    """The mesh that a part is written into: that of the object it replaces, unless somebody else uses it too.

    Meshes are filled again, not exchanged: exchanging the data of objects made Blender 5.2 lose track of
    their materials in undo, and crash.
    """
    before = obj.data if obj is not None else None
    if not isinstance(before, bpy.types.Mesh):
        return bpy.data.meshes.new(name)
    if before.users == 1 and before.shape_keys is None:
        return before
    mesh = bpy.data.meshes.new(name)
    for material in before.materials:
        mesh.materials.append(material)
    return mesh


def _fill(mesh: bpy.types.Mesh, part: Part, scale: float) -> None:
    fill_mesh(mesh, part.points * scale, part.faces)
    if not part.smooth:  # smooth is how a new mesh begins
        shade_flat(mesh)
    if part.values is not None and part.legend is not None:
        store_values(mesh, part.values, part.legend, part.classes)
    elif mesh.get(LEGEND) is not None:
        del mesh[LEGEND]


def store_values(
    mesh: bpy.types.Mesh, values: NDArray[Any], legend: MapLegend, classes: NDArray[Any] | None = None
) -> None:
    """Numbers as a point attribute, and as a colour attribute that the viewport shows.

    Classes, where there are any, are stored as the attribute "class" and colour over the values.
    """
    number: Any = mesh.attributes.new("value", "FLOAT", "POINT")
    number.data.foreach_set("value", np.ascontiguousarray(values, dtype=np.float32))
    colours = linear_colours(values, legend.low, legend.high)
    if classes is not None:
        which: Any = mesh.attributes.new("class", "INT", "POINT")
        which.data.foreach_set("value", np.ascontiguousarray(classes, dtype=np.int32))
        named = linear_of(np.array(CLASS_COLOURS))
        colours = np.where(classes[:, None] > 0, named[np.maximum(classes, 1) - 1], colours)
    layer: Any = mesh.color_attributes.new("Colour", "FLOAT_COLOR", "POINT")
    layer.data.foreach_set("color", np.ascontiguousarray(colours, dtype=np.float32).ravel())
    mesh.color_attributes.active_color = layer
    mesh[LEGEND] = asdict(legend)


def edited_by_hand(obj: bpy.types.Object) -> bool:
    """Whether someone changed the shape since we wrote it."""
    stamp = obj.data.get(STAMP) if isinstance(obj.data, bpy.types.Mesh) else None
    if not isinstance(obj.data, bpy.types.Mesh) or stamp is None:
        return False
    if obj.mode == "EDIT":
        obj.update_from_editmode()
    return bool(geometry_stamp(obj.data) != stamp)


def set_aside(obj: bpy.types.Object) -> str:
    """Keep a hand-edited object under a name that says so; it is no longer ours to replace."""
    obj[TAG] = "kept:" + str(obj[TAG])
    obj.name = f"{obj.name} (edited by hand)"
    return obj.name


def remove_object(obj: bpy.types.Object) -> None:
    """Remove an object of ours and its data when nobody else uses it."""
    data = obj.data
    bpy.data.objects.remove(obj)
    if isinstance(data, bpy.types.Mesh) and data.users == 0:
        bpy.data.meshes.remove(data)
    elif isinstance(data, bpy.types.Curve) and data.users == 0:
        bpy.data.curves.remove(data)
