# SPDX-License-Identifier: GPL-3.0-or-later
"""What things in the file were made from: a short print of each input, and which of them changed since.

A print is kept with what was made from it, in the same data block, so that undo cannot part the two. Whatever
asks "is this still true?" compares the print that is kept with that of the inputs as they are now.
"""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

import numpy as np

from . import cache
from .clicks import clicks_of
from .convert import geometry_stamp, matrix_array
from .landmarks import moved_landmarks
from .own_objects import cage_object, cutters_of, lines_of, model_object, outline_object
from .props import to_data
from .seal_curve import own_points
from .wearers import scan_of, wearer_mm

if TYPE_CHECKING:
    import bpy

    from .wearers import SEALWRIGHT_PG_wearer

PATCH = "sealwright_patch"  # on a scan that is a shared patch: what the core must know of it, as JSON
WORDS = (
    "The scan changed",
    "A landmark changed",
    "A value changed",
    "The seal line changed",
    "A value changed",
    "A shape of your own changed",
)
"""What to say when a part of a print differs, in the order of its parts; see `inputs_print`."""

FACE, LINE, SHAPES = slice(0, 3), 3, 5
"""Parts of a print that the face depends on; the part of the line; that of the maker's own shapes."""


def inputs_print(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    """Prints of scan, landmarks, reading of the scan, seal line, other values and own shapes, as one text.

    Empty without a scan. Cheap when nothing changed, so that panels can ask on every redraw.
    """
    graph = context.evaluated_depsgraph_get()  # first: it hears of changes that are still waiting
    scan = scan_of(context, wearer)
    if scan is None or context.scene is None:
        return ""
    key = (context.scene.session_uid, wearer.number)
    if key not in cache.prints:
        values = to_data(wearer.recipe)
        reading = values.pop("scan")
        parts = (
            scan_print(context, wearer, scan, graph),
            landmarks_print(context, wearer),
            _hash(json.dumps(reading).encode()),
            line_print(context, wearer),
            _hash(json.dumps(values).encode()),
            shapes_print(context, wearer, graph),
        )
        cache.prints[key] = " ".join(parts)
    return cache.prints[key]


def scan_print(
    context: bpy.types.Context,
    wearer: SEALWRIGHT_PG_wearer,
    scan: bpy.types.Object,
    graph: bpy.types.Depsgraph,
) -> str:
    """Of the scan as it is seen: shape with modifiers, place, unit, and what the maker says of it."""
    about = (wearer_mm(context, wearer), wearer.adult, about_patch(scan))
    return _hash(*shape_print(scan, graph), repr(about).encode())


def shape_print(obj: bpy.types.Object, graph: bpy.types.Depsgraph) -> tuple[bytes, bytes]:
    """Of a mesh object as it is seen: its shape with modifiers, and its place."""
    seen = obj.evaluated_get(graph)
    editing = obj.mode == "EDIT"
    shape = "" if editing else cache.shapes.get(obj.session_uid, "")
    if not shape:
        shape = geometry_stamp(seen.data)  # type: ignore[arg-type]
        if not editing:
            cache.shapes[obj.session_uid] = shape
    return shape.encode(), matrix_array(seen.matrix_world).tobytes()


def shapes_print(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, graph: bpy.types.Depsgraph) -> str:
    """Of what the maker drew or modelled and the kind of design uses; the same for none of it."""
    found = [line.tobytes() for line in lines_of(outline_object(context, wearer))]
    for obj in (model_object(context, wearer), cage_object(context, wearer), *cutters_of(context, wearer)):
        found += [b"-"] if obj is None else shape_print(obj, graph)
    return _hash(*found) if any(part != b"-" for part in found) else "none"


def landmarks_print(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    """Of the landmarks that the maker moved or set, and of the three clicks."""
    points = {**moved_landmarks(context, wearer), **{f"click {n}": p for n, p in clicks_of(wearer).items()}}
    return _hash(*(name.encode() + point.tobytes() for name, point in sorted(points.items())))


def line_print(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    """Of the maker's own seal line; the same for every proposed one."""
    points = own_points(context, wearer)
    return "proposed" if points is None else _hash(points.tobytes())


def changes(kept: str, now: str) -> tuple[str, ...]:
    """What changed between two prints, in words, each once; one that was never kept says so."""
    if kept == now:
        return ()
    before, after = kept.split(), now.split()
    if not now:
        return ("The scan is gone",)
    if len(before) != len(after):
        return ("It is not known what this was made from",)
    pairs = zip(WORDS, before, after, strict=False)  # a face has the first three only
    return tuple(dict.fromkeys(word for word, one, other in pairs if one != other))


def face_part(whole: str) -> str:
    """The part of a print that the prepared face depends on."""
    return " ".join(whole.split()[FACE])


def without_line(whole: str) -> str:
    """A print without the parts of line and own shapes: what a proposed line depends on."""
    parts = whole.split()
    return " ".join(parts[:LINE] + parts[LINE + 1 : SHAPES])


def face_current(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bool:
    """Whether the face that was found is that of the scan and the landmarks as they are."""
    return bool(wearer.prepared) and wearer.face_from == face_part(inputs_print(context, wearer))


def about_patch(scan: bpy.types.Object) -> str:
    """What is known of a scan that is a shared patch; nothing for a scan."""
    return str(scan.get(PATCH, ""))  # type: ignore[no-untyped-call]


def _hash(*parts: bytes) -> str:
    return hashlib.sha256(b"\0".join(parts)).hexdigest()[:16]


def drawn_from(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer, points: np.ndarray) -> str:
    """Of a drawn line, its points (k, 3), and all that its marks depend on."""
    return _hash(points.tobytes(), inputs_print(context, wearer).encode())
