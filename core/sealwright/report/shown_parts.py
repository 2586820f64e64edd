"""How parts are shown, in pictures and in a window: their colours, and the cushion as it is worn."""

from __future__ import annotations

import numpy as np

from ..cushion.band_face import band_face_of
from ..designing.design import Design
from ..mesh import TriMesh
from ..predict.band import skin_under
from ..render.scene import Colour, rings_mesh

PART_COLOURS: tuple[Colour, ...] = (
    (0.33, 0.49, 0.62),
    (0.78, 0.68, 0.42),
    (0.52, 0.60, 0.47),
    (0.62, 0.48, 0.58),
)
CUSHION: Colour = (0.30, 0.31, 0.34)


def worn_cushion(design: Design) -> TriMesh | None:
    """What lies between band and skin, face frame, mm: lip, liner, or the strip of foam on the skin."""
    if design.cushion is None or design.band is None:
        return None
    if design.cushion.worn is not None:
        return design.cushion.worn.mesh
    hard = band_face_of(design.band, design.parts["body"].mesh).grid
    rings = np.concatenate([hard, skin_under(design.prepared.face, hard)[:, ::-1]], axis=1)
    foam = rings_mesh(rings, "foam")
    return foam if foam.volume > 0.0 else TriMesh(foam.vertices, foam.faces[:, ::-1])


def part_colour(names: tuple[str, ...], name: str) -> Colour:
    """The colour of a part among the printed parts of its design; the cushion and a liner have their own."""
    printed = [part for part in names if part != "liner"]
    return PART_COLOURS[printed.index(name) % len(PART_COLOURS)] if name in printed else CUSHION
