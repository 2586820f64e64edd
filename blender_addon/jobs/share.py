# SPDX-License-Identifier: GPL-3.0-or-later
"""A scene to give away: the recipe and the skin under the mask; nothing else of the wearer, no name, no path.

The file is written from a scene that is made for it and taken away again; nothing of the maker's own file
is copied by reference, so nothing can come along unseen.
"""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import bpy
import numpy as np

from ..model.convert import matrix_array, mesh_from_trimesh
from ..model.fingerprint import PATCH, about_patch
from ..model.landmarks import place_landmarks
from ..model.placing import face_to_world, to_world
from ..model.props import (
    defaults,
    from_data,
    read_fields,
    to_data,
)
from ..model.quiet import quiet
from ..model.seal_curve import draw_seal_line

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ..core.designing.design import Design
    from ..core.designing.skin_patch import SkinPatch
    from ..core.mesh import TriMesh
    from ..model.wearers import SEALWRIGHT_PG_wearer

NAME = "Wearer"
MM = 0.001  # scene unit scale of the shared file: one unit is one millimetre


def shared_bytes(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, design: Design) -> bytes:
    """A .blend file with the wearer's recipe, skin patch, landmarks and seal line, as bytes.

    Raises
    ------
    NoSurface : no skin lies under the design.
    """
    from ..core.designing.skin_patch import skin_patch

    patch = skin_patch(design)
    recipe = without_free_text(to_data(wearer.recipe))
    scene = bpy.data.scenes.new("Sealwright")
    try:
        with context.temp_override(scene=scene, view_layer=scene.view_layers[0]):
            _fill(bpy.context, scene, patch, recipe, design)
            scene.view_layers[0].update()  # Blender 5.2 stops dead when it writes a scene never looked at
            return _written(scene)
    finally:
        _remove(scene)


def without_free_text(data: dict[str, Any], fields: Any = None) -> dict[str, Any]:
    """Recipe data with every text that a maker types put back to its default; it may name the wearer."""
    rows = read_fields() if fields is None else fields
    plain, out = defaults(rows), dict(data)
    for field in rows:
        name, kind = field["name"], field["kind"]
        if kind == "text":
            out[name] = plain[name]
        elif kind == "section":
            out[name] = without_free_text(out[name], field["fields"])
        elif kind == "sections":
            out[name] = [without_free_text(part, field["fields"]) for part in out[name]]
    return out


def _fill(
    context: bpy.types.Context,
    scene: bpy.types.Scene,
    patch: SkinPatch,
    recipe: dict[str, Any],
    design: Design,
) -> None:
    """Lay the patch, the recipe, the landmarks and the line into an empty scene."""
    scene.unit_settings.system, scene.unit_settings.scale_length = "METRIC", MM
    scene.render.filepath = ""
    skin = bpy.data.objects.new("Skin patch", mesh_from_trimesh("Skin patch", patch.mesh, 1.0))
    skin[PATCH] = json.dumps(patch.about(), sort_keys=True)
    scene.collection.objects.link(skin)
    state: Any = scene.sealwright  # type: ignore[attr-defined]
    state.greet = True
    wearer = state.wearers.add()
    wearer.name, wearer.number, state.next_number = NAME, 1, 2
    with quiet():
        from_data(wearer.recipe, recipe)
    wearer.scan, wearer.unit = skin, "MM"
    back = face_to_world(np.diag([design.prepared.wearer_scale] * 3 + [1.0]), 1.0)
    wearer.face_to_world = back.ravel().tolist()
    wearer.prepared = True
    marks = {name: to_world(back, point) for name, point in design.prepared.landmarks.items()}
    place_landmarks(context, wearer, marks, patch.confidence)
    if design.seal_line is not None:  # as the maker's own: a line proposed anew would not be quite the same
        draw_seal_line(context, wearer, design.seal_line.control, proposal=False)


def _written(scene: bpy.types.Scene) -> bytes:
    """The scene as a file; Blender notes down where it wrote it, and that is blotted out."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shared.blend"
        bpy.data.libraries.write(str(path), {scene}, path_remap="NONE")
        content = path.read_bytes()
    for said in {os.fsencode(folder), os.fsencode(Path(folder).resolve())}:
        content = content.replace(said, bytes(len(said)))
    return content


def _remove(scene: bpy.types.Scene) -> None:
    """Take the scene and all that was made for it away again."""
    objects = list(scene.collection.all_objects)
    datas = [obj.data for obj in objects if obj.data is not None]
    bpy.data.batch_remove([*objects, *scene.collection.children_recursive, scene])
    bpy.data.batch_remove(datas)


def free_name(folder: Path, stem: str) -> Path:
    """A .blend file in a folder that does not exist yet: the name, or the name with a number."""
    path, count = folder / f"{stem}.blend", 2
    while path.exists():
        path, count = folder / f"{stem}-{count}.blend", count + 1
    return path


def scan_to_patch(scan: bpy.types.Object, mm: float) -> NDArray[np.float64]:
    """4x4, scan coordinates in mm to the patch's own, which are those of its mesh."""
    there = matrix_array(scan.matrix_world)
    there[:3] *= mm
    return np.linalg.inv(there)


def patch_from(mesh: TriMesh, scan: bpy.types.Object, mm: float) -> SkinPatch:
    """The patch that a shared scene holds; ``mesh`` is the scan as it is seen, mm."""
    from ..core.designing.skin_patch import patch_of

    return patch_of(mesh.moved(scan_to_patch(scan, mm)), json.loads(about_patch(scan)))
