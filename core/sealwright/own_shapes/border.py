"""Where a shell leaves the skin along a drawn line: corners as round as its edge needs, and the way out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from ..errors import BadOutline, Where, plain_point
from ..face.surface import FaceSurface
from ..facepiece.closed_curve import crossings, smoothed_round
from ..facepiece.skin_walk import right_of, walked
from ..mesh import Floats
from .edge import EdgeSection
from .outline import Curve, Outline, curve_on

_MOST_MOVED = 2.0  # widths of the edge by which its corners may be rounded
_EVEN = 1.5  # widths of the edge over which the skin is smoothed where the edge's way is walked
_ROUNDER = (0.0, 0.5, 1.0, 1.5, 2.5)  # smoothing lengths that are tried, in widths of the edge


@dataclass(frozen=True, eq=False)
class Line:
    """An outline with the section of its edge and what lies on the other side of it."""

    outline: Outline
    section: EdgeSection
    hole: bool


@dataclass(frozen=True, eq=False)
class Border:
    """Where the shell leaves the skin along one line, and how.

    Attributes
    ----------
    line : the drawn line with its edge.
    outermost : the drawn line as a curve on the skin.
    leaves : (n, 3) where the edge leaves the skin, mm.
    out, normal : (n, 3) unit: along the skin away from the shell, and away from the skin.
    moved_mm : largest distance of the curve from the drawn points' line that rounding its corners took.
    """

    line: Line
    outermost: Curve
    leaves: Floats
    out: Floats
    normal: Floats
    moved_mm: float

    def swept(self) -> Floats:
        """The edge (n, k, 3), from the outer side to the skin side."""
        section = self.line.section.points()
        out, up = section[:, 0, None], section[:, 1, None]
        return np.asarray(self.leaves[:, None] + out * self.out[:, None] + up * self.normal[:, None])


def border_of(inner: FaceSurface, line: Line, smoothing_mm: float) -> Border:
    """Where the shell leaves the skin, its corners as round as the edge needs.

    Raises
    ------
    BadOutline : no rounding is enough.
    """
    width, drawn = line.section.width_mm, curve_on(inner, line.outline, line.hole, 0.0)
    where: Floats = drawn.points[0]
    for more in _ROUNDER:
        smoothing = max(smoothing_mm, more * width)
        curve = curve_on(inner, line.outline, line.hole, smoothing)
        leaves, folded = _walked_in(inner, curve, width)
        if folded is None:
            moved = cKDTree(curve.points).query(drawn.points)[0]
            where = drawn.points[int(np.argmax(moved))]
            if moved.max() > _MOST_MOVED * width:
                break
            out, normal = _ways(inner, leaves, curve.spacing_mm)
            return Border(line, curve, leaves, out, normal, float(moved.max()))
        where = folded
    raise BadOutline(
        f"The {line.outline.role} is too narrow or bends too tightly for an edge {width:.1f} mm wide.",
        Where(line.outline.role, point=plain_point(where)),
        "Draw it wider or rounder there, take a thinner shell, or an edge that rolls less.",
    )


def _walked_in(face: FaceSurface, curve: Curve, width: float) -> tuple[Floats, Floats | None]:
    """The curve moved by the edge's width into the shell (n, 3), and a place (3,) where that folds."""
    even = replace(face, feather_mm=_EVEN * width)  # a walk over bumps would scatter
    right, _ = right_of(even, curve.points)  # the shell lies on the left
    rows = walked(even, curve.points, -right, width, max(int(np.ceil(width / 0.5)), 2))
    pq, _ = face.chart.place_of(rows)
    following = np.roll(pq, -1, axis=0)
    ahead = following - pq
    first, second = pq[:, 1:] - pq[:, :-1], following[:, 1:] - following[:, :-1]
    folded = np.zeros(first.shape[:2], dtype=bool)
    for edge in (ahead[:, :-1], ahead[:, 1:]):
        for step in (first, second):
            folded |= edge[..., 0] * step[..., 1] - edge[..., 1] * step[..., 0] <= 0.0
    bad = np.flatnonzero(folded.any(axis=1))
    if len(bad) == 0:
        bad = np.flatnonzero(crossings(pq[:, -1]))
    leaves = face.drop_on_skin(rows[:, -1])
    return leaves, rows[bad[0], 0] if len(bad) else None


def _ways(face: FaceSurface, leaves: Floats, spacing_mm: float) -> tuple[Floats, Floats]:
    """Unit ways (n, 3) out of the shell along the skin, and away from the skin."""
    smooth = 1.0 / spacing_mm
    normal = smoothed_round(face.normal_at(face.chart.place_of(leaves)[0]), smooth)
    along = smoothed_round(np.roll(leaves, -1, axis=0) - np.roll(leaves, 1, axis=0), smooth)
    out = np.cross(along, normal)
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    normal = normal - (normal * out).sum(axis=1, keepdims=True) * out
    return out, normal / np.linalg.norm(normal, axis=1, keepdims=True)
