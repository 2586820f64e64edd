"""Properties of any seal line and band: random control points on a sphere, against closed formulas."""

from __future__ import annotations

from functools import cache

import numpy as np
from face.shapes import sphere
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from sealwright.errors import DoesNotFit, SealLineCrossing
from sealwright.face.surface import FaceSurface
from sealwright.facepiece.band_ends import Fillet
from sealwright.facepiece.contact_band import BandSettings
from sealwright.facepiece.seal_line import SealLine, line_through

from .bands import contact_band

RADIUS_MM = 75.0
RINGS = st.lists(st.floats(28.0, 45.0), min_size=6, max_size=12)


@cache
def ball() -> FaceSurface:
    return sphere(RADIUS_MM)


def control_of(radii: list[float], turn: float) -> np.ndarray:
    """Control points on the ball, seen from the front at these distances from the Y axis, mm."""
    angle = turn + 2.0 * np.pi * np.arange(len(radii)) / len(radii)
    x, z = np.array(radii) * np.cos(angle), np.array(radii) * np.sin(angle)
    return np.stack([x, -np.sqrt(RADIUS_MM**2 - x**2 - z**2), z], axis=1)


def line_of(radii: list[float], turn: float, smoothing_mm: float) -> SealLine:
    return line_through(ball(), control_of(radii, turn), 96, smoothing_mm)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(radii=RINGS, turn=st.floats(0.0, 6.28), smoothing=st.floats(0.0, 8.0))
def test_any_line_lies_on_the_skin_evenly_and_closes(radii, turn, smoothing) -> None:
    line = line_of(radii, turn, smoothing)
    # 0.02 mm: bicubic reading of an image of radii with 0.75 mm pixels on a sphere of 75 mm.
    assert np.abs(np.linalg.norm(line.points, axis=1) - RADIUS_MM).max() < 0.02
    step = np.linalg.norm(np.roll(line.points, -1, axis=0) - line.points, axis=1)
    # 3 %: chords are shorter than arcs by (s / r)^2 / 24; unsmoothed lines bend to r = 3 mm.
    assert np.ptp(step) < 0.03 * step.mean()
    # It starts where it crosses the midplane highest, and runs to the wearer's left (+X) first.
    assert line.points[0, 2] > 0 and line.points[5, 0] > line.points[0, 0]
    assert line.length_mm >= 2.0 * np.pi * RADIUS_MM * np.sin(np.arcsin(28.0 / RADIUS_MM)) * 0.9


@settings(max_examples=25, deadline=None, derandomize=True)
@given(radii=RINGS, turn=st.floats(0.0, 6.28))
def test_order_of_the_points_does_not_matter(radii, turn) -> None:
    """The same points told the other way round give the same line."""
    control = control_of(radii, turn)
    one, other = (line_through(ball(), c, 96, 5.0) for c in (control, control[::-1]))
    # 0.2 mm: the closed spline's first knot differs, everything else is the same curve.
    assert np.linalg.norm(one.points - other.points, axis=1).max() < 0.2


@settings(max_examples=20, deadline=None, derandomize=True)
@given(
    radii=st.lists(st.floats(36.0, 42.0), min_size=6, max_size=10),
    width=st.floats(6.0, 20.0),
    share=st.floats(0.3, 0.7),
    off=st.floats(-0.5, 2.0),
)
def test_any_band_is_as_wide_as_asked_and_stands_off(radii, width, share, off) -> None:
    line = line_of(radii, 0.3, 6.0)
    asked = BandSettings(width_mm=width, inner_share=share, stand_off_mm=off)
    try:
        band = contact_band(ball(), line, asked, Fillet(5.0, 45.0), 2.0)
    except DoesNotFit:
        assume(False)
        return
    rows = band.grid[:, band.contact]
    # Height over a sphere is exact: its radius. 0.12 mm: the swept skin is blurred over 4 mm, s^2 / R / 2.
    assert np.abs(np.linalg.norm(rows, axis=-1) - RADIUS_MM - off).max() < 0.12
    # Across the line every section is a great-circle walk: its length is the width, scaled to the stand-off.
    walked = np.linalg.norm(np.diff(rows, axis=1), axis=-1).sum(axis=1) * RADIUS_MM / (RADIUS_MM + off)
    # 3 %: sections of a line that bends are blurred along it by a third of its smoothing.
    assert np.abs(walked / width - 1.0).max() < 0.03


@settings(max_examples=20, deadline=None, derandomize=True)
@given(
    radii=st.lists(st.floats(25.0, 40.0), min_size=8, max_size=8),
    first=st.integers(0, 7),
    second=st.integers(0, 7),
)
def test_points_out_of_order_are_refused_or_give_a_simple_line(radii, first, second) -> None:
    control = control_of(radii, 0.0)
    control[[first, second]] = control[[second, first]]
    try:
        line = line_through(ball(), control, 96, 5.0)
    except SealLineCrossing as refusal:
        assert first != second
        assert refusal.where.point is not None
        return
    around = np.unwrap(np.arctan2(line.points[:, 2], line.points[:, 0]))
    assert abs(abs(around[-1] - around[0]) - 2.0 * np.pi) < 0.6  # once round: the last step is missing
