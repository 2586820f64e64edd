# SPDX-License-Identifier: GPL-3.0-or-later
"""Wearers: one per person, each with a scan, landmarks, a seal line, a recipe and its own collection."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from . import cache, rows
from .preferences import USUAL, preferences_of, usual_fields
from .props import defaults, from_data, to_data
from .units import UNIT_ITEMS, mm_per_unit

if TYPE_CHECKING:
    from collections.abc import Iterator

TAG = "sealwright"  # custom property on every object of ours: "landmark:menton", "part:body", ...


def tag_of(obj: bpy.types.Object) -> str:
    """What an object is for us; nothing for objects that are not ours."""
    return str(obj.get(TAG, ""))  # type: ignore[no-untyped-call]


def is_mesh(_self: Any, obj: bpy.types.Object) -> bool:
    """Whether an object can be a scan: a mesh that is not one of our own parts."""
    return obj.type == "MESH" and not tag_of(obj)


def is_outline(_self: Any, obj: bpy.types.Object) -> bool:
    """Whether an object can be the outline of a shell: a curve that is no seal line."""
    return obj.type == "CURVE" and tag_of(obj) in ("", "outline")


def is_cage(_self: Any, obj: bpy.types.Object) -> bool:
    """Whether an object can be the form of a chamber: a cage that was taken out, or a mesh of the maker's."""
    return obj.type == "MESH" and tag_of(obj) in ("", "cage")


def unit_changed(self: SEALWRIGHT_PG_wearer, _context: bpy.types.Context) -> None:
    """A new unit makes what was found wrong, and what was measured is no longer meant."""
    cache.touch()
    self.prepared, self.scale_said = False, ""


def cushion_hidden(self: SEALWRIGHT_PG_wearer, context: bpy.types.Context) -> None:
    """Show or hide the cushion at once, where parts are shown."""
    seen = context.view_layer.objects if context.view_layer else ()
    parts = [obj for _, obj in tagged(self, "part:") if obj.name in seen]
    for _, obj in tagged(self, "cushion"):
        if obj.name in seen:
            obj.hide_set(not (self.cushion_shown and any(not part.hide_get() for part in parts)))


def adult_changed(self: SEALWRIGHT_PG_wearer, _context: bpy.types.Context) -> None:
    """The face is looked at again: the report says what the maker said."""
    cache.touch()
    self.prepared = False


class SEALWRIGHT_PG_wearer(bpy.types.PropertyGroup):
    """One wearer."""

    if TYPE_CHECKING:
        number: int
        collection: bpy.types.Collection | None
        scan: bpy.types.Object | None
        unit: str
        adult: bool
        measured_mm: float
        scale_said: str
        seal_line: bpy.types.Object | None
        outline: bpy.types.Object | None
        model: bpy.types.Object | None
        cage: bpy.types.Object | None
        cutters: Any
        recipe: Any
        face_to_world: Any
        prepared: bool
        face_from: str
        quality: str
        parts: str
        cushion_shown: bool
        checks_from: str
        headline: str
        checks: Any
        remarks: Any
        ways: Any
        sectors: Any
        judged_by: str
        clicks: Any
        clicked: bool
        pose_sure: float
        skin_changes: str
        found: Any
        put_away: bool
        choices: Any
        choice: int
        choices_from: str
        choice_taken: str
        handles_kept: str
        handles_from: str
    else:
        number: IntProperty(description="Never reused within a file")
        collection: PointerProperty(type=bpy.types.Collection)
        scan: PointerProperty(
            name="Scan",
            description="The scanned face; it is never changed",
            type=bpy.types.Object,
            poll=is_mesh,
        )
        unit: EnumProperty(
            name="Unit",
            description="What one Blender unit of the scan is",
            items=UNIT_ITEMS,
            update=unit_changed,
        )
        adult: BoolProperty(
            name="Wearer Is an Adult",
            description="Design for a very small face all the same; the report says that you said so. These "
            "masks are not for children",
            default=False,
            update=adult_changed,
        )
        measured_mm: FloatProperty(name="Millimetres per Unit", default=1000.0, min=1e-6, precision=5)
        scale_said: StringProperty(description="What the scale was measured by, and how well")
        seal_line: PointerProperty(type=bpy.types.Object)
        outline: PointerProperty(
            name="Outline",
            description="A curve on the skin: its longest spline is the outline of a shell, others are holes",
            type=bpy.types.Object,
            poll=is_outline,
            update=rows.another_shape,
        )
        model: PointerProperty(
            name="Model",
            description="A closed mesh that is trimmed to the face as it is seen; it is never changed",
            type=bpy.types.Object,
            poll=is_mesh,
            update=rows.another_shape,
        )
        cage: PointerProperty(
            name="Cage",
            description="The outer form of the chamber: a cage that was taken out, or an open mesh; empty "
            "lets the program choose",
            type=bpy.types.Object,
            poll=is_cage,
            update=rows.another_shape,
        )
        cutters: CollectionProperty(type=rows.SEALWRIGHT_PG_cutter)
        face_to_world: FloatVectorProperty(
            size=16, description="Face frame in mm to the world in Blender units, row by row"
        )
        prepared: BoolProperty(description="The face was found on the scan")
        face_from: StringProperty(description="Print of the scan and landmarks that the face was found on")
        quality: EnumProperty(
            items=(("NONE", "Nothing", ""), ("PREVIEW", "Preview", ""), ("FINAL", "Full Quality", ""))
        )
        cushion_shown: BoolProperty(
            name="Show Cushion",
            description="Show the cushion between band and skin; it is cut from a sheet or cast, not printed",
            default=True,
            update=cushion_hidden,
        )
        parts: StringProperty(description="Names of the parts that were built last, with | between")
        checks_from: StringProperty(description="Print of what the checks and remarks speak of")
        headline: StringProperty(description="The verdict of the last examination")
        checks: CollectionProperty(type=rows.SEALWRIGHT_PG_check)
        remarks: CollectionProperty(type=rows.SEALWRIGHT_PG_remark)
        ways: CollectionProperty(type=rows.SEALWRIGHT_PG_remark)
        sectors: CollectionProperty(type=rows.SEALWRIGHT_PG_sector)
        judged_by: StringProperty(description="Stamp of line, values and face that the sectors are judged by")
        clicks: FloatVectorProperty(size=9, description="Outer eye corners, left first, and nose tip; world")
        clicked: BoolProperty(description="The maker clicked where the face is")
        pose_sure: FloatProperty(description="How sure the orientation is, 0 to 1", min=0.0, max=1.0)
        skin_changes: StringProperty(description="What was changed on the skin under the seal")
        found: CollectionProperty(type=rows.SEALWRIGHT_PG_remark)
        put_away: BoolProperty(description="The scan is hidden because another wearer is chosen")
        choices: CollectionProperty(type=rows.SEALWRIGHT_PG_choice)
        choice: IntProperty(name="Design", min=0)
        choices_from: StringProperty(description="Print of what the designs were searched from")
        choice_taken: StringProperty(description="Print of the values after one of them was taken")
        handles_kept: StringProperty(description="Handles of what was shown when the file was saved")
        handles_from: StringProperty(description="Print of what these handles belong to")


def show_wearers(state: SEALWRIGHT_PG_scene, context: bpy.types.Context) -> None:
    """Show the chosen wearer and hide the others, so that none is drawn over another; or show all."""
    layer = context.view_layer
    if layer is None or not len(state.wearers):
        return
    seen = state.wearers if state.show_all else [state.wearers[min(state.active, len(state.wearers) - 1)]]
    collections, scans = {w.collection for w in seen}, {w.scan for w in seen}
    for wearer in state.wearers:
        for child in _layers(layer.layer_collection):
            if child.collection == wearer.collection:
                child.hide_viewport = wearer.collection not in collections
        scan = wearer.scan
        if scan is None or scan.name not in layer.objects:
            continue
        if scan not in scans and not scan.hide_get():
            wearer.put_away = True
            scan.hide_set(True)
        elif scan in scans and wearer.put_away:
            wearer.put_away = False
            scan.hide_set(False)


def _layers(layer: bpy.types.LayerCollection) -> Iterator[bpy.types.LayerCollection]:
    for child in layer.children:
        yield child
        yield from _layers(child)


class SEALWRIGHT_PG_scene(bpy.types.PropertyGroup):
    """All wearers of a scene."""

    if TYPE_CHECKING:
        wearers: Any
        active: int
        show_all: bool
        next_number: int
        live: bool
        mirror_line: bool
        greet: bool
        handles: bool
        show_choices: bool
        ruler_mm: float
        reference: str
        reference_long_mm: float
        reference_short_mm: float
        reference_mark: str
        export_folder: str
        export_date: str
        export_name: str
    else:
        wearers: CollectionProperty(type=SEALWRIGHT_PG_wearer)
        active: IntProperty(name="Wearer", default=0, update=show_wearers)
        show_all: BoolProperty(
            name="Show All Wearers",
            description="Show scans and parts of all wearers; else only those of the one that is chosen",
            update=show_wearers,
        )
        next_number: IntProperty(default=1)
        live: BoolProperty(
            name="Live Preview", default=True, description="Rebuild a coarse body whenever a value changes"
        )
        handles: BoolProperty(
            name="Handles",
            default=True,
            description="Show handles in the view: ports, lugs and the width of the band are dragged there",
        )
        show_choices: BoolProperty(
            name="Plot in the View",
            default=True,
            description="Show the designs of the search in the view; click one to choose it",
        )
        greet: BoolProperty(description="Once opened, show the face and the tab")
        mirror_line: BoolProperty(
            name="Mirror While Dragging",
            description="A point of the seal line that is dragged takes its fellow on the other side along",
        )
        ruler_mm: FloatProperty(
            name="Known Length (mm)",
            default=60.0,
            min=1.0,
            max=1000.0,
            description="True distance of the two ruler points, for example across a card",
        )
        reference: EnumProperty(
            name="Object",
            description="The flat object of known size that lies in the scan",
            items=(
                ("CARD", "Card, 85.60 x 53.98 mm", "A bank or identity card, size ID-1 of ISO/IEC 7810"),
                ("RECTANGLE", "Rectangle", "A side of a box, or a piece of tape: measure both its sides"),
            ),
        )
        reference_long_mm: FloatProperty(
            name="Long Side (mm)", default=120.0, min=20.0, max=999.0, description="Measured with a caliper"
        )
        reference_short_mm: FloatProperty(
            name="Short Side (mm)", default=80.0, min=20.0, max=999.0, description="Measured with a caliper"
        )
        reference_mark: EnumProperty(
            name="Marked By",
            description="How its place on the scan is marked",
            items=(
                (
                    "CURSOR",
                    "3D Cursor",
                    "Put the 3D cursor on the middle of the object; its flat patch is found. The unit must "
                    "be about right, and what is round it must lie lower, as skin or cloth does",
                ),
                (
                    "SELECTED",
                    "Selected Faces",
                    "Select all faces of the object in the scan's edit mode, and no others",
                ),
            ),
        )
        export_folder: StringProperty(
            name="Folder", subtype="DIR_PATH", default="//", options={"PATH_SUPPORTS_BLEND_RELATIVE"}
        )
        export_name: StringProperty(
            name="File Names",
            default="{wearer} {part} {date}",
            description="Words and {wearer}, {part}, {date}; {part} must be in it",
        )
        export_date: StringProperty(
            name="Date", description="Goes into file names as it is typed; may be empty"
        )


def scene_state(context: bpy.types.Context) -> SEALWRIGHT_PG_scene:
    """The Sealwright state of the scene."""
    state: SEALWRIGHT_PG_scene = context.scene.sealwright  # type: ignore[attr-defined, union-attr]
    return state


def active_wearer(context: bpy.types.Context) -> SEALWRIGHT_PG_wearer | None:
    """The wearer whose job the panels show."""
    state = scene_state(context)
    if 0 <= state.active < len(state.wearers):
        wearer: SEALWRIGHT_PG_wearer = state.wearers[state.active]
        return wearer
    return None


def gather_wearer(context: bpy.types.Context) -> SEALWRIGHT_PG_wearer:
    """The active wearer; operators ask for it in their poll."""
    wearer = active_wearer(context)
    assert wearer is not None
    return wearer


def living(obj: bpy.types.Object | None, scene: bpy.types.Scene) -> bpy.types.Object | None:
    """The object, unless it was deleted from the scene (our pointer alone keeps its data alive)."""
    return obj if obj is not None and scene.objects.get(obj.name) == obj else None


def scan_of(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bpy.types.Object | None:
    """The wearer's scan, if it is still in the scene."""
    assert context.scene is not None
    return living(wearer.scan, context.scene)


def wearer_mm(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> float:
    """Millimetres in one world unit for this wearer."""
    assert context.scene is not None
    return mm_per_unit(context.scene, wearer.unit, wearer.measured_mm)


def wearer_collection(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bpy.types.Collection:
    """The wearer's collection, made or linked again when the user removed it."""
    assert context.scene is not None
    root = context.scene.collection
    if wearer.collection is None:
        wearer.collection = bpy.data.collections.new(f"Sealwright {wearer.name}")
    if wearer.collection not in root.children_recursive:
        root.children.link(wearer.collection)
    return wearer.collection


def tagged(wearer: SEALWRIGHT_PG_wearer, prefix: str) -> Iterator[tuple[str, bpy.types.Object]]:
    """Objects of a wearer whose tag begins so, with the rest of the tag; renaming does not matter."""
    if wearer.collection is None:
        return
    for obj in wearer.collection.all_objects:
        tag = tag_of(obj)
        if tag.startswith(prefix):
            yield tag[len(prefix) :], obj


def add_wearer(context: bpy.types.Context, name: str) -> SEALWRIGHT_PG_wearer:
    """A new wearer with the default recipe, made the active one."""
    state = scene_state(context)
    taken = {w.name for w in state.wearers}
    unique, count = name, 2
    while unique in taken:
        unique, count = f"{name} {count}", count + 1
    wearer: SEALWRIGHT_PG_wearer = state.wearers.add()
    wearer.name, wearer.number = unique, state.next_number
    state.next_number += 1
    state.active = len(state.wearers) - 1
    from_data(wearer.recipe, defaults())
    _as_usual(context, wearer)
    return wearer


COPIED = ("scan", "unit", "adult", "measured_mm", "scale_said", "clicks", "clicked", "pose_sure")
FOUND = ("face_to_world", "prepared", "face_from")
"""What a further design has of its wearer from the beginning: the scan and how it is read; the face on it."""


def copy_wearer(context: bpy.types.Context) -> SEALWRIGHT_PG_wearer:
    """A further design for the active wearer: scan, face, landmarks and values, nothing that was made."""
    index = scene_state(context).active
    plain = scene_state(context).wearers[index].name.rstrip("0123456789").rstrip()  # without a number
    made = add_wearer(context, plain or "Wearer")
    wearer = scene_state(context).wearers[index]  # a list that grows moves its rows
    for name in (*COPIED, *FOUND):
        setattr(made, name, getattr(wearer, name))
    from_data(made.recipe, to_data(wearer.recipe))
    home = wearer_collection(context, made)
    for _, obj in list(tagged(wearer, "landmark:")):
        home.objects.link(obj.copy())
    show_wearers(scene_state(context), context)
    cache.touch()
    return made


def _as_usual(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> None:
    """Give a new wearer the maker's printer and material, and the first one of a file the folder."""
    usual, state = preferences_of(context), scene_state(context)
    if usual is None:
        return
    for section in USUAL:
        fields = usual_fields(section)
        from_data(getattr(wearer.recipe, section), to_data(usual, fields), fields)
    if len(state.wearers) == 1 and usual.folder:
        state.export_folder = usual.folder
