# SPDX-License-Identifier: GPL-3.0-or-later
"""Scan files: opened, dropped into the view, or from File > Import, by Blender's own importers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import bpy
from bpy.props import StringProperty

from ..core.errors import NoSurface, UnreadableFile, Where
from ..jobs.job import warm
from ..model.convert import object_to_trimesh
from ..model.wearers import active_wearer, add_wearer, scan_of
from ..view.framing import frame_object
from ..view.messages import Step, manager_of
from .scan import set_scan, take_fitting_unit

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

IMPORTERS = {".stl": "stl_import", ".ply": "ply_import", ".obj": "obj_import"}


class SEALWRIGHT_OT_import_scan(Step, bpy.types.Operator):
    """Import a scan (STL, PLY, OBJ, GLB) with Blender's own importer and use it"""

    bl_idname = "sealwright.import_scan"
    bl_label = "Import Scan"
    bl_options = {"REGISTER", "UNDO"}

    if TYPE_CHECKING:
        filepath: str
        filter_glob: str
    else:
        filepath: StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE", "PATH_SUPPORTS_BLEND_RELATIVE"})
        filter_glob: StringProperty(default="*.stl;*.ply;*.obj;*.glb;*.gltf", options={"HIDDEN"})

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Take a dropped file at once, else ask for one."""
        if self.filepath:
            return self.execute(context)
        manager_of(context).fileselect_add(self)
        return {"RUNNING_MODAL"}

    def run(self, context: bpy.types.Context) -> str:
        """Import the file; its largest mesh becomes the scan."""
        obj = import_mesh(context, Path(bpy.path.abspath(self.filepath)))
        context.view_layer.update()  # type: ignore[union-attr]
        mesh = object_to_trimesh(obj, context.evaluated_depsgraph_get(), 1.0)
        wearer = active_wearer(context)
        if wearer is None or scan_of(context, wearer) is not None:
            wearer = add_wearer(context, Path(self.filepath).stem)
        set_scan(context, wearer, obj)
        said = take_fitting_unit(context, wearer, mesh)
        frame_object(context, obj)
        warm()
        return f"{obj.name} is the scan of {wearer.name}.{said}"


class SEALWRIGHT_FH_scan(bpy.types.FileHandler):
    """A scan file dropped into a 3D view; Blender asks whether to import it as a scan or as any mesh"""

    bl_idname = "SEALWRIGHT_FH_scan"
    bl_label = "Face Scan"
    bl_import_operator = "sealwright.import_scan"
    bl_file_extensions = ".stl;.ply;.obj;.glb;.gltf"

    @classmethod
    def poll_drop(cls, context: bpy.types.Context) -> bool:
        """Dropped into a 3D view."""
        return context.area is not None and context.area.type == "VIEW_3D"


def draw_import(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    """The line in File > Import."""
    assert menu.layout is not None
    menu.layout.operator("sealwright.import_scan", text="Face Scan (.stl, .ply, .obj, .glb)")


def import_mesh(context: bpy.types.Context, path: Path) -> bpy.types.Object:
    """Import one file and return its largest mesh object.

    Raises
    ------
    UnreadableFile : missing, of an unknown kind, or refused by the importer.
    NoSurface : there is no mesh with triangles in it.
    """
    assert context.scene is not None
    place, suffix = Where("scan file", key=path.name), path.suffix.lower()
    if not path.is_file():
        raise UnreadableFile(f"There is no file {path.name}.", place, "Choose an existing scan file.")
    before = set(context.scene.objects)
    try:
        if suffix in IMPORTERS:
            getattr(bpy.ops.wm, IMPORTERS[suffix])(filepath=str(path))
        elif suffix in (".glb", ".gltf"):
            bpy.ops.import_scene.gltf(filepath=str(path))
        else:
            raise UnreadableFile(
                f"{path.name} is no kind of scan file that can be read.", place, "Use STL, PLY, OBJ or GLB."
            )
    except RuntimeError as error:
        raise UnreadableFile(
            f"{path.name} could not be imported: {error}", place, "Export the scan again, as STL or PLY."
        ) from error
    made = [o for o in context.scene.objects if o not in before]
    meshes = [o for o in made if isinstance(o.data, bpy.types.Mesh) and len(o.data.polygons)]
    if not meshes:
        for obj in made:
            bpy.data.objects.remove(obj)
        raise NoSurface(
            f"{path.name} has no triangles.", place, "Export the scan as a surface, not as a point cloud."
        )
    return max(meshes, key=lambda o: len(o.data.polygons) if isinstance(o.data, bpy.types.Mesh) else 0)


CLASSES = (SEALWRIGHT_OT_import_scan, SEALWRIGHT_FH_scan)
