"""A picture of what a scan shows under the mask: measured skin, guessed skin, and where there is none."""

from __future__ import annotations

import numpy as np

from ..designing.prepared import Prepared
from ..errors import DesignError
from ..face.quadtree import whole_squares
from ..face.surface import sheet_faces
from ..facepiece.line_on_skin import LineAsked, line_on_skin
from ..facepiece.seal_line import SealLine
from ..facepiece.seal_line_proposal import seal_line
from ..mesh import Bools, Floats, TriMesh
from ..recipe import Recipe
from ..render.pictures import png_bytes, render, view_of
from ..render.scene import Colour, Scene, Shown, ball

MEASURED: Colour = (0.86, 0.73, 0.64)
GUESSED: Colour = (0.93, 0.52, 0.13)
GOOD: Colour = (0.13, 0.45, 0.70)
MISSING: Colour = (0.80, 0.10, 0.15)
STATIONS, BEAD_MM = 160, 1.1
SIZE = (960, 720)


def coverage_pictures(prepared: Prepared, recipe: Recipe) -> dict[str, bytes]:
    """Front view and view from below as PNG by file name.

    Measured skin is skin-coloured, filled skin orange; what the scan does not show is left open. Beads are
    the seal line: blue on measured skin, orange on filled skin, red where there is none.

    Parameters
    ----------
    prepared, recipe : the scan, and the recipe whose seal line is looked at.

    Raises
    ------
    BackendUnavailable : the ray caster or the picture library is missing.
    """
    scene = Scene((*shown_skin(prepared), *_shown_beads(prepared, recipe)))
    views: dict[str, str | tuple[float, float, float]] = {
        "coverage-front.png": "front",
        "coverage-below.png": (0.0, -1.0, -0.9),
    }
    return {
        name: png_bytes(render(scene, view_of(scene, view, SIZE, True), SIZE)) for name, view in views.items()
    }


def shown_skin(prepared: Prepared) -> list[Shown]:
    """The skin that was measured, and the squares with guessed corners."""
    face = prepared.face
    measured = whole_squares(face.known & ~face.guessed)
    index = np.arange(face.known.size, dtype=np.int32).reshape(face.known.shape)
    points = np.ascontiguousarray(face.points.reshape(-1, 3))
    shown = []
    for squares, colour in ((measured, MEASURED), (face.guessed_squares, GUESSED)):
        faces = sheet_faces(index, squares)
        if len(faces):
            mesh = TriMesh(points, faces).submesh(np.ones(len(faces), dtype=bool))
            shown.append(Shown(mesh, colour, solid=False))
    return shown


def _shown_beads(prepared: Prepared, recipe: Recipe) -> list[Shown]:
    found = _beads(prepared, recipe)
    if found is None:
        return []
    points, measured, known = found
    colours = [GOOD if m else GUESSED if k else MISSING for m, k in zip(measured, known, strict=True)]
    return [
        Shown(ball(point, BEAD_MM), colour, solid=False)
        for point, colour in zip(points, colours, strict=True)
    ]


def _beads(prepared: Prepared, recipe: Recipe) -> tuple[Floats, Bools, Bools] | None:
    """Points of the seal line (n, 3), which are on measured skin, and which on any; None without a line."""
    face, line = prepared.face, _line(prepared, recipe)
    if line is None:
        return None
    measured = np.asarray(face.is_measured(line.pq))
    return line.points, measured, np.asarray(face.is_known(line.pq)) | measured


def _line(prepared: Prepared, recipe: Recipe) -> SealLine | None:
    """The seal line of a design; where there is none, the one by distances, which leaves the skin."""
    face, marks, settings = prepared.face, prepared.landmarks, recipe.seal_line
    try:
        return line_on_skin(face, marks, LineAsked(settings, STATIONS, recipe.band.reach))
    except DesignError:
        pass
    try:
        return seal_line(face, marks, settings, STATIONS, recipe.band.inner_mm)
    except DesignError:
        return None
