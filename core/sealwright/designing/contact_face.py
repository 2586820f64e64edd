"""The face that touches the skin as it is printed: of the body, of its liner, or of the mould of its lip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..cushion.band_face import band_face_of
from ..mesh import Floats
from ..printing.layer_advice import layer_advice
from ..printing.layer_ranges import LayerAdvice
from ..printing.slices import slices_of
from ..printing.staircase import apart_mm, cusp_mm, levelled, slope_of
from ..solids.distance import MeshDistance
from .design import Design

MOULD = "mould-a"
"""The half of the mould of a lip that shapes the skin side."""


@dataclass(frozen=True, eq=False, kw_only=True)
class ContactFace:
    """Stations (n) by rows (k) of a finished contact face, outer edge first, in the face frame.

    Attributes
    ----------
    part : what is printed: "body", "liner", or "mould-a", whose steps a cast lip copies.
    covered : a foam strip lies over it, and the skin feels none of its steps.
    up : (3,) direction that points up in its print.
    layer_mm, coating_mm : height of its layers, and coating over them.
    points : (n, k, 3) mm, on the finished mesh.
    normals : (n, k, 3) unit normals of the triangles there.
    """

    part: str
    covered: bool
    up: Floats
    layer_mm: float
    coating_mm: float
    points: Floats
    normals: Floats

    @property
    def slope(self) -> Floats:
        """How level the face lies (n, k) in its print, 0 upright to 1 level."""
        return slope_of(self.normals, self.up)

    @property
    def cusp_mm(self) -> Floats:
        """Height (n, k) of the steps as they are printed, mm, square to the face."""
        return cusp_mm(self.slope, self.layer_mm)

    @property
    def coated_mm(self) -> Floats:
        """The same (n, k) under the coating."""
        return np.asarray(self.cusp_mm * levelled(apart_mm(self.slope, self.layer_mm), self.coating_mm))


def contact_face_of(design: Design, up: Floats | None = None) -> ContactFace | None:
    """The printed face that touches the skin; None of a preview, a tube and what has no band.

    Parameters
    ----------
    design : finished.
    up : (3,) which way up the part prints where the design leaves that to a search.
    """
    if design.band is None or design.fit is None or "body" not in design.parts:
        return None
    made, recipe = design.cushion, design.recipe
    part, mesh, coating = "body", design.parts["body"].mesh, recipe.allowance.coating_mm
    places = design.fit.places
    if made is not None and made.worn is not None:
        mesh = made.worn.mesh
        part = "liner" if made.mould_from_face is None else MOULD
        coating = coating if part == "liner" else 0.0
    elif made is not None:
        places = band_face_of(design.band).grid
    if made is not None and made.mould_from_face is not None:
        way: Floats | None = made.mould_from_face[2, :3]
    else:
        way = design.print_up.get(part, up)
    if way is None:
        return None
    _, triangle, nearest = MeshDistance(mesh).closest(places.reshape(-1, 3))
    return ContactFace(
        part=part,
        covered=made is not None and made.worn is None,
        up=np.asarray(way / np.linalg.norm(way)),
        layer_mm=recipe.printer.layer_mm,
        coating_mm=coating,
        points=nearest.reshape(places.shape),
        normals=mesh.face_normals[triangle].reshape(places.shape),
    )


def mould_advice(design: Design, face: ContactFace) -> LayerAdvice | None:
    """Layers by height for the half of a mould that shapes the skin side; None of other cushions."""
    made = design.cushion
    if made is None or made.mould_from_face is None:
        return None
    half, printer = made.tools[MOULD], design.recipe.printer
    heights = face.points @ made.mould_from_face[2, :3] + made.mould_from_face[2, 3]
    volumes = np.array([layer.volume_mm3 for layer in slices_of(half, printer.layer_mm)])
    top = float(half.mesh.bounds[1, 2])
    return layer_advice(heights.ravel(), face.slope.ravel(), top, volumes, printer)
