"""The seal line: a closed curve on the skin, evenly spaced, starting at the nose and running to the left."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..errors import Remark, SealLineCrossing, Where
from ..face.surface import FaceSurface
from ..mesh import Floats
from ..settings import optional_choice, points, quantity, switch
from ..settings.fields import LEAST_POINTS
from ..solids.polygon import polygon_area
from .closed_curve import arc_lengths, closed_spline, crossings, resampled, smoothed_round, tangents_round

_DENSE = 1200  # points the spline is first sampled at, under 0.4 mm apart


@dataclass(frozen=True)
class SealLineSettings:
    """Where the seal line runs (distances are walked on the skin)."""

    nose_drop_mm: float = quantity(
        13.0,
        "mm",
        5.0,
        30.0,
        "From sellion down the nose ridge to the seal line, on bone above the cartilage.",
    )
    nose_flank_mm: float = quantity(
        21.0,
        "mm",
        10.0,
        30.0,
        "From the nose ridge obliquely down its flank to the fold between nose and cheek.",
    )
    wing_margin_mm: float = quantity(
        15.0,
        "mm",
        6.0,
        25.0,
        "From alare outwards in the front view; half the band width must fit in between.",
    )
    mouth_margin_mm: float = quantity(
        20.0,
        "mm",
        15.0,
        35.0,
        "From the mouth corner outwards; at least 15 mm keeps the lips free when speaking.",
    )
    chin_side_mm: float = quantity(33.0, "mm", 15.0, 45.0, "From menton sideways along the jaw border.")
    under_chin_mm: float = quantity(14.0, "mm", 5.0, 30.0, "From menton backwards under the chin.")
    chin_front_mm: float = quantity(
        9.0, "mm", 4.0, 20.0, "From menton upwards, where the line must pass in front of the chin."
    )
    chin: str | None = optional_choice(
        ("under", "front"), "Pass under the chin, or between lower lip and menton; automatic asks the scan."
    )
    follow_size: bool = switch(
        True, "Scale these distances with the face (sellion to menton over 115 mm): one recipe, many wearers."
    )
    off_creases: bool = switch(
        True,
        "Move the proposal out, 5 mm at most, where the band would reach overhanging skin beside the nose.",
    )
    smoothing_mm: float = quantity(
        8.0,
        "mm",
        0.0,
        15.0,
        "Smoothing length along the line; 0 keeps the plain spline. A wide band folds round a tight bend.",
    )
    control_points: tuple[tuple[float, float, float], ...] | None = points(
        "Control points in the face frame, in order round the mouth; automatic takes the proposal."
    )


@dataclass(frozen=True, eq=False)
class SealLine:
    """The seal line as evenly spaced stations, face frame.

    Attributes
    ----------
    pq : (n, 2) chart positions, radians; n is even.
    points : (n, 3) on the skin, mm.
    control : (k, 3) control points the line was made from, mm.
    under_chin : whether it passes behind the menton.
    sigma_stations : smoothing used, in stations, for everything that varies along the line.
    room : (n, 2) share of the band's width outside the line and inside it that the scan has skin for; None
        where the band is as wide as asked all round.
    remarks : what it cost to find the line.
    """

    pq: Floats
    points: Floats
    control: Floats
    under_chin: bool
    sigma_stations: float
    room: Floats | None = None
    remarks: tuple[Remark, ...] = ()

    @cached_property
    def length_mm(self) -> float:
        """Length of the closed curve, mm."""
        return float(arc_lengths(self.points)[-1])

    @property
    def spacing_mm(self) -> float:
        """Mean distance between stations, mm."""
        return self.length_mm / len(self.points)

    @cached_property
    def tangents(self) -> Floats:
        """Unit tangents (n, 3), smoothed along the line."""
        tangent = smoothed_round(tangents_round(self.points), self.sigma_stations)
        return np.asarray(tangent / np.linalg.norm(tangent, axis=1, keepdims=True))


def line_through(
    face: FaceSurface, control: Floats, stations: int, smoothing_mm: float, under_chin: bool = True
) -> SealLine:
    """The evenly spaced closed curve on the skin through control points (k, 3) in mm.

    Raises
    ------
    SealLineCrossing : the curve crosses itself, or has fewer than four control points.
    """
    if len(control) < LEAST_POINTS:
        raise SealLineCrossing(
            f"The seal line has {len(control)} control points; a closed line needs at least {LEAST_POINTS}.",
            Where("seal line"),
            "Add control points or go back to the proposal.",
        )
    pq, _ = face.chart.place_of(control)
    if (
        polygon_area(pq) > 0
    ):  # to the wearer's left first: clockwise on the chart, which shows the face from inside
        pq, control = pq[::-1], control[::-1]
    dense = closed_spline(pq, _DENSE)
    crossed = np.flatnonzero(crossings(dense[::4]))
    if len(crossed):
        place = face.skin_at(dense[::4][crossed[0]])
        raise SealLineCrossing(
            "The seal line crosses itself.",
            Where("seal line", point=(float(place[0]), float(place[1]), float(place[2]))),
            "Put the control points in order round the mouth.",
        )
    count = 2 * max(stations // 2, 12)
    for _ in range(2):  # the second pass evens what the smoothing moved
        skin = face.skin_at(dense)
        arc = arc_lengths(skin)
        even = resampled(dense, arc, count, _top_crossing(skin, arc))
        spacing = arc[-1] / count
        dense = closed_spline(smoothed_round(even, smoothing_mm / spacing / np.sqrt(2.0)), _DENSE)
    return SealLine(even, face.skin_at(even), control, under_chin, 2.0 * smoothing_mm / spacing / 3.0)


def _top_crossing(skin: Floats, arc: Floats) -> float:
    """Arc length at which the line crosses the midplane X = 0 highest, where station 0 belongs."""
    x, z = skin[:, 0], skin[:, 2]
    following = np.roll(x, -1)
    step = np.flatnonzero((x <= 0) & (following > 0) | (x < 0) & (following >= 0))
    if len(step) == 0:
        return float(arc[int(np.argmax(z))])
    best = step[int(np.argmax(z[step]))]
    share = -x[best] / (following[best] - x[best])
    return float(arc[best] + share * (arc[best + 1] - arc[best]))
