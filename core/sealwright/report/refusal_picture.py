"""A picture of a refusal: the scan with the place marked, from the front and from where to scan it again."""

from __future__ import annotations

import struct
import zlib

import numpy as np
from scipy.spatial import cKDTree

from ..designing.prepared import Prepared
from ..errors import DesignError, NotAFace
from ..facepiece.line_words import view_of_skin
from ..mesh import Floats, TriMesh
from ..render.pictures import png_bytes, render, view_of
from ..render.scene import Label, Scene, Shown, ball
from ..scan.pose.orient import find_face
from ..scan.pose.pose_fallback import USUAL_PLACE
from .coverage import MEASURED, MISSING, shown_skin

SIZE = (480, 540)
_BEAD_MM, _PLACE_MM = 1.4, 3.0
_ROUND_MM = 25.0  # skin round a place from which the way out there is taken
_KEY = b"Refusal"  # tells our pictures from other files of the same name


def picture_on_face(prepared: Prepared, refusal: DesignError) -> bytes | None:
    """PNG of a refusal at a place of the prepared face; None where it names no place there.

    Parameters
    ----------
    prepared : the scan.
    refusal : its place is in the face frame.

    Raises
    ------
    BackendUnavailable : the ray caster or the picture library is missing.
    """
    where = refusal.where
    spots = where.spots or ((where.point,) if where.point is not None else ())
    if not spots or where.frame != "face":
        return None
    places = np.array(spots)
    view = view_of_skin(prepared.face, places)
    return _drawn(shown_skin(prepared), places, view, refusal)


def picture_on_scan(mesh_mm: TriMesh, refusal: DesignError) -> bytes | None:
    """PNG of a refusal while the scan was prepared: no face, or a landmark that is not there.

    Parameters
    ----------
    mesh_mm : the scan in its own pose, mm.
    refusal : its place is in the scan frame; a missing landmark is marked where it usually lies.

    Raises
    ------
    BackendUnavailable : the ray caster or the picture library is missing.
    """
    point = refusal.where.point
    try:
        pose = find_face(mesh_mm)
        to_face, size = pose.scan_to_face, pose.size
    except NotAFace:
        to_face, size = None, 1.0
    name = refusal.where.key
    if to_face is None:
        if point is None:
            return None
        return _drawn(
            [Shown(mesh_mm, MEASURED, solid=False)], np.array([point]), _way_out(mesh_mm, point), refusal
        )
    if point is not None:
        place = to_face[:3, :3] @ np.array(point) + to_face[:3, 3]
    elif name in USUAL_PLACE:
        place = size * np.array(USUAL_PLACE[name])
    else:
        return None
    below = place[2] < size * USUAL_PLACE["pogonion"][2]
    view = np.array([0.0, -0.6, -0.8]) if below else np.array([0.0, -1.0, 0.0])
    return _drawn([Shown(mesh_mm.moved(to_face), MEASURED, solid=False)], place[None], view, refusal)


def is_refusal_picture(data: bytes) -> bool:
    """Whether a file is a picture that was made here."""
    return b"tEXt" + _KEY in data


def _way_out(mesh: TriMesh, point: tuple[float, float, float]) -> Floats:
    """Unit direction (3,) out of the skin round a point."""
    near = np.linalg.norm(mesh.corners.mean(axis=1) - np.array(point), axis=1) < _ROUND_MM
    if not near.any():
        near = np.zeros(len(mesh.faces), dtype=bool)
        near[cKDTree(mesh.corners.mean(axis=1)).query(np.array(point))[1]] = True
    out = mesh.face_vectors[near].sum(axis=0)
    length = float(np.linalg.norm(out))
    return np.asarray(out / length) if length > 0.0 else np.array([0.0, -1.0, 0.0])


def _drawn(skin: list[Shown], places: Floats, view: Floats, refusal: DesignError) -> bytes:
    """Two views side by side, with the words of the refusal as text in the file."""
    radius = _BEAD_MM if len(places) > 1 else _PLACE_MM
    beads = [Shown(ball(place, radius), MISSING, solid=False) for place in places]
    middle = places[int(np.argmin(np.linalg.norm(places - places.mean(axis=0), axis=1)))]
    label = Label((float(middle[0]), float(middle[1]), float(middle[2])), _LABELS.get(refusal.code, "here"))
    scene = Scene((*skin, *beads), labels=(label,))
    way = (float(view[0]), float(view[1]), float(view[2]))
    front = Scene(scene.shown, labels=scene.labels, title="from the front")
    from_there = Scene(scene.shown, labels=scene.labels, title="seen from where it shows best")
    first = render(front, view_of(front, "front", SIZE, True), SIZE)
    second = render(from_there, view_of(from_there, way, SIZE, True), SIZE)
    return _with_text(png_bytes(np.hstack([first, second])), refusal.what)


_LABELS = {"off-the-scan": "skin is missing", "landmark": "not in the scan", "not-a-face": "no face here"}


def _with_text(png: bytes, text: str) -> bytes:
    """The picture with a text chunk before its end (PNG, ISO/IEC 15948, 11.3.4.3)."""
    data = _KEY + b"\0" + text.encode("latin-1", "replace")
    chunk = struct.pack(">I", len(data)) + b"tEXt" + data + struct.pack(">I", zlib.crc32(b"tEXt" + data))
    end = png.rindex(b"IEND") - 4
    return png[:end] + chunk + png[end:]
