"""The picture of a part as it prints: standing on the bed, coloured by overhang, trouble spots marked."""

from __future__ import annotations

import numpy as np

from ..mesh import Floats, TriMesh, trimesh_of
from ..printing.plan import PrintPlan
from ..printing.printer import PrinterSettings
from ..render.normals import corner_normals
from ..render.scene import LINE, PLATE, Legend, Scene, Shown, ball

_CREASE_DEG = 15.0  # low: blended normals would hide where a ceiling begins
_MOST_MARKS = 40
RIBS_COLOUR = (0.85, 0.55, 0.2)


def print_scene(plan: PrintPlan, printer: PrinterSettings, title: str = "", bed: bool = True) -> Scene:
    """The part on its bed.

    Colours show the overhang from the vertical, from 25 degrees under the limit to 90 for ceilings;
    everything else keeps its plain colour. Balls mark the places on the touch-up list.

    Parameters
    ----------
    plan : of the part.
    printer : for the limit and the bed.
    title : words at the upper left.
    bed : show the bed; leave it away for a view from below.
    """
    part = plan.mesh.moved(plan.placement)
    size = float(np.linalg.norm(part.extents))
    marks = [plan.placement[:3, :3] @ np.array(t.point_mm) + plan.placement[:3, 3] for t in plan.touch_up]
    balls = [Shown(ball(p, 0.012 * size), LINE) for p in marks[:_MOST_MARKS]]
    plate = (bed_under(part),) if bed else ()
    ribs = () if plan.ribs is None else (Shown(plan.ribs.moved(plan.placement), RIBS_COLOUR),)
    shown = (overhang_shown(part), *plate, *balls, *ribs)
    return Scene(shown, legend=overhang_legend(printer.overhang_deg), title=title)


def overhang_legend(limit_deg: float) -> Legend:
    """The scale of overhang, from 25 degrees under the limit to 90."""
    return Legend("Overhang", "deg", max(limit_deg - 25.0, 0.0), 90.0, (("limit", limit_deg),), "ember")


def overhang_shown(part: TriMesh) -> Shown:
    """A part that stands on z = 0, coloured by its overhang."""
    return Shown(part, PLATE, values=overhang_angles(part), crease_deg=_CREASE_DEG)


def overhang_angles(part: TriMesh) -> Floats:
    """Overhang of the surface at each corner (m, 3), degrees from the vertical; 0 for what faces up.

    What lies on the bed counts as 0.
    """
    down = -corner_normals(part, _CREASE_DEG)[:, :, 2]
    angle = np.degrees(np.arcsin(np.clip(down, 0.0, 1.0)))
    angle[part.corners[:, :, 2].max(axis=1) < part.bounds[0, 2] + 0.02] = 0.0
    return np.asarray(angle)


def bed_under(part: TriMesh) -> Shown:
    """A piece of the bed under a part that stands on z = 0."""
    return Shown(_plate(part), PLATE)


def _plate(part: TriMesh) -> TriMesh:
    """A piece of the bed under the part, 2 mm thick."""
    low, high = part.bounds
    margin = 0.12 * (high - low)[:2].max()
    (x0, y0), (x1, y1), z1 = low[:2] - margin, high[:2] + margin, float(low[2])
    corners = [(x, y, z) for z in (z1 - 2.0, z1) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
    quads = [(3, 2, 1, 0), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
    faces = [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]
    return trimesh_of(corners, faces, "bed")
