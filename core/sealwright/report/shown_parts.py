"""How parts are shown, in pictures and in a window: their colours, and the cushion as it is worn."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from ..cushion.band_face import BandFace, band_face_of
from ..designing.design import Design
from ..mesh import Floats, TriMesh
from ..predict.band import skin_under
from ..render.scene import Colour, rings_mesh

PART_COLOURS: tuple[Colour, ...] = (
    (0.33, 0.49, 0.62),
    (0.78, 0.68, 0.42),
    (0.52, 0.60, 0.47),
    (0.62, 0.48, 0.58),
)
CUSHION: Colour = (0.30, 0.31, 0.34)

_SOFT = (1.0, 0.7)  # stations and rows, about 2 and 1 mm, over which a shown cushion evens out heights


def worn_cushion(design: Design) -> TriMesh | None:
    """What lies between band and skin, face frame, mm: lip, liner, or the strip of foam on the skin."""
    if design.cushion is None or design.band is None:
        return None
    if design.cushion.worn is not None:
        return design.cushion.worn.mesh
    hard = band_face_of(design.band, design.parts["body"].mesh).grid
    skin = skin_under(design.prepared.face, hard)
    designed = band_face_of(design.band)
    rings = np.concatenate([along_band(designed, hard), along_band(designed, skin)[:, ::-1]], axis=1)
    foam = rings_mesh(rings, "foam")
    return foam if foam.volume > 0.0 else TriMesh(foam.vertices, foam.faces[:, ::-1])


def along_band(band: BandFace, places: Floats) -> Floats:
    """Places (n, k, 3) near the points of a band, moved to smooth heights over it, mm.

    Nearest points of body and skin crowd and fold in a crease; a soft layer bridges it as the band does.
    """
    normals = band.normals
    height = ((places - band.grid) * normals).sum(axis=-1)
    height = ndimage.gaussian_filter(height, _SOFT, mode=("wrap", "nearest"))
    return np.asarray(band.grid + normals * height[..., None])


def part_colour(names: tuple[str, ...], name: str) -> Colour:
    """The colour of a part among the printed parts of its design; the cushion and a liner have their own."""
    printed = [part for part in names if part != "liner"]
    return PART_COLOURS[printed.index(name) % len(PART_COLOURS)] if name in printed else CUSHION
