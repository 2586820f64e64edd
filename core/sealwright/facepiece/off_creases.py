"""Moves the proposed seal line off skin that overhangs, as beside the wings of the nose.

A rigid band cannot follow skin that it does not see from outside: at the foot of such a step the seal leaks.
"""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from ..face.surface import FaceSurface
from ..mesh import Floats
from .band_room import outwards, steepness
from .seal_line import SealLine, line_through

STEEP = 3.0  # slope of the radius over the way along the skin: seen under less than 18 degrees
_MARGIN_MM = 1.0  # between the band and such skin
_STATIONS = 96  # as many whatever the quality, so that preview and final agree
_ROUNDS = 4
_FURTHEST_MM = 5.0
_STEP_MM = 0.7
_MIDLINE_MM = 3.0  # control points on the midline stay there


def off_creases(face: FaceSurface, control: Floats, smoothing_mm: float, inner_mm: float) -> Floats:
    """Control points (k, 3), mm, moved outwards until the band's inner side keeps off overhanging skin.

    Parameters
    ----------
    face : the face surface.
    control : (k, 3) control points in mm, in order round the mouth.
    smoothing_mm : smoothing length along the line.
    inner_mm : width of the band on the mouth side of the line.

    Points move 5 mm at most; what overhangs further out stays for the checks to show.

    Raises
    ------
    SealLineCrossing : the line through the points crosses itself.
    """
    start = np.array(control, dtype=np.float64)
    moved = np.zeros(len(start))
    free = np.abs(start[:, 0]) > _MIDLINE_MM
    steep = steepness(face)
    points = start
    for _ in range(_ROUNDS):
        line = line_through(face, points, _STATIONS, smoothing_mm)
        lacking = _lacking(face, line, inner_mm + _MARGIN_MM, steep)
        step = np.where(free, _at_control(line, points, lacking), 0.0)
        step = np.minimum(step, _FURTHEST_MM - moved)
        if step.max() <= 0.0:
            break
        moved = moved + step
        nearest = np.argmin(np.linalg.norm(line.points[None] - points[:, None], axis=-1), axis=1)
        points = _moved(face, start, outwards(face, line)[nearest], moved)
    return points


def _lacking(face: FaceSurface, line: SealLine, reach_mm: float, steep: Floats) -> Floats:
    """How far (n,) each station must move out so that nothing steep lies within reach on the mouth side."""
    heading = -outwards(face, line)
    here = face.drop_on_skin(line.points, smooth=True)
    lacking = np.zeros(len(here))
    steps = int(np.ceil(reach_mm / _STEP_MM))
    for step in range(steps + 1):
        pixel = face.chart.pixels_of(face.chart.place_of(here)[0])
        found = ndimage.map_coordinates(steep, pixel.T, order=1, mode="nearest") > STEEP
        lacking = np.where(found & (lacking == 0.0), reach_mm - step * reach_mm / steps, lacking)
        here = face.drop_on_skin(here + heading * (reach_mm / steps), smooth=True)
    return lacking


def _at_control(line: SealLine, control: Floats, lacking: Floats) -> Floats:
    """The most that the stations between each control point and its two neighbours lack, (k,)."""
    owner = np.argmin(np.linalg.norm(line.points[:, None] - control[None], axis=-1), axis=1)
    most = np.zeros(len(control))
    np.maximum.at(most, owner, lacking)
    beside = np.maximum(np.roll(most, 1), np.roll(most, -1))
    return np.asarray(np.maximum(most, 0.5 * beside))


def _moved(face: FaceSurface, start: Floats, out: Floats, distance: Floats) -> Floats:
    """Points (k, 3) walked out over the skin by a distance each."""
    points = start.copy()
    some = distance > 0.0
    points[some] = face.walk(start[some], out[some], distance[some])
    return points
