"""The skin under a shape of the maker's own: a chart that looks at it, wherever on the face it lies."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import OffTheScan, Where, plain_point
from ..face.chart import RadialChart
from ..face.surface import FaceSurface, face_surface
from ..mesh import Floats, TriMesh
from ..solids.polygon import closed_edges, inside_edges

_PITCH_MM = 0.75  # as on the face surface of a mask
_WIDEST_RAD = 1.9  # beyond it the chart would look at the back of the head
_DEPTHS_MM = (45.0, 60.0, 75.0)  # places behind subnasale that are tried for the middle of the chart,
_HEIGHTS_MM = (-40.0, -20.0, 0.0, 20.0, 40.0, 60.0)  # and above it
_SAME_SKIN_MM = 40.0  # skin nearer or further by more than the outline is not what is looked at
_STEEPEST_PERCENT = 3.0


@dataclass(frozen=True)
class Look:
    """How the skin under a shape is laid out.

    Attributes
    ----------
    size : of the face, over the usual one.
    fill_mm, bound_mm : as for `face_surface`.
    margin_mm : skin round the shape that takes part.
    """

    size: float = 1.0
    fill_mm: float = 8.0
    bound_mm: float | None = None
    margin_mm: float = 16.0


def skin_under(skin: TriMesh, points: Floats, look: Look) -> FaceSurface:
    """The face surface round some points.

    Parameters
    ----------
    skin : the scan in the face frame, mm.
    points : (k, 3) mm, on or near the skin, all round the shape.
    look : how.

    Raises
    ------
    OffTheScan : the points go too far round the head.
    NotAFace : there is almost no skin.
    """
    centres = [np.array([0.0, y, z]) * look.size for y in _DEPTHS_MM for z in _HEIGHTS_MM]
    charts = [_chart_from(centre, points) for centre in centres]
    chart = charts[int(np.argmax([_squareness(skin, one, points) for one in charts]))]
    reach = np.abs(chart.place_of(points)[0]).max(axis=1)
    far = int(np.argmax(reach))
    if not reach[far] < _WIDEST_RAD:
        raise OffTheScan(
            "The shape goes too far round the head.",
            Where("outline", point=plain_point(points[far])),
            "Keep it on the side of the face that is seen from the front.",
        )
    half = int(np.ceil(reach[far] / chart.pitch_rad + look.margin_mm / _PITCH_MM))
    return face_surface(skin, replace(chart, half=half), look.fill_mm, look.bound_mm)


def _chart_from(centre: Floats, points: Floats) -> RadialChart:
    """A chart that looks from a centre (3,) at the middle of some points (k, 3)."""
    away = points - centre
    tilt = float(np.arctan2(-away[:, 2].mean(), -away[:, 1].mean()))
    return RadialChart(centre, tilt, _PITCH_MM / float(np.median(np.linalg.norm(away, axis=1))), 1)


def _squareness(skin: TriMesh, chart: RadialChart, points: Floats) -> float:
    """Cosine between rays and skin within an outline (k, 3) that most of the skin exceeds."""
    pq, away = chart.place_of(points)
    places, distance = chart.place_of(skin.corners.mean(axis=1))
    low, high = away.min() - _SAME_SKIN_MM, away.max() + _SAME_SKIN_MM
    inside = inside_edges(places, closed_edges(pq)) & (distance > low) & (distance < high)
    if not inside.any() or np.abs(pq).max() > _WIDEST_RAD:
        return -2.0
    cosine = (chart.direction_at(places[inside]) * skin.face_normals[inside]).sum(axis=1)
    return float(np.percentile(cosine, _STEEPEST_PERCENT))
