"""The contact band on sphere, plane and cylinder: area, width, height over the skin; what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bare import BARE_BAND
from face.shapes import sphere, surface_of
from sealwright.checks.fit import check_fit
from sealwright.errors import BandSinks, DoesNotFit, OffTheScan
from sealwright.facepiece.band_ends import Fillet
from sealwright.facepiece.contact_band import BandSettings, require_over_skin
from sealwright.facepiece.seal_line import line_through
from sealwright.facepiece.shell import side_mesh

from .bands import contact_band
from .scenes import BARE, RADIUS_MM, circle, scene


def strip_area(skin: str, length: float, inner: float, outer: float) -> float:
    """Area of the strip between the curves at geodesic distances inner and outer from a closed curve.

    Steiner's formula with Gauss-Bonnet (do Carmo, Differential Geometry of Curves and Surfaces, 4-5; from
    memory): on a surface of constant curvature K the parallel curve at distance t has the length
    L cos(k t) + (2 pi - K A) sin(k t) / k, k = sqrt(K); on flat and rolled-up flat skin L + 2 pi t.
    """
    if skin != "sphere":
        return length * (inner + outer) + np.pi * (outer**2 - inner**2)
    k = 1.0 / RADIUS_MM
    polar = np.arcsin(length / (2 * np.pi * RADIUS_MM))  # a circle on the sphere
    turning = 2 * np.pi * np.cos(polar)
    return (
        length * (np.sin(k * outer) + np.sin(k * inner)) / k
        + turning * (np.cos(k * inner) - np.cos(k * outer)) / k**2
    )


@pytest.mark.parametrize("skin", BARE)
def test_area_of_the_band(skin: str) -> None:
    made = scene(skin)
    strip = side_mesh(made.band.grid[:, made.band.contact])
    width, share = made.settings.width_mm, made.settings.inner_share
    expected = strip_area(skin, made.line.length_mm, width * share, width * (1 - share))
    # 0.5 %: the strip's rows are blurred along the line by a third of the smoothing, and walked in chords
    assert strip.area == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("skin", BARE)
def test_width_of_the_band(skin: str) -> None:
    made = scene(skin)
    rows = made.band.grid[:, made.band.contact]
    width = np.linalg.norm(np.diff(rows, axis=1), axis=-1).sum(axis=1)
    # 1 %: chords of a walk, blurred along the line
    assert width == pytest.approx(np.full(len(width), made.settings.width_mm), rel=0.01)


def test_a_raised_band_that_sinks_into_the_skin_is_seen() -> None:
    """On a sphere, trimmed at 7 mm over it: a band that dips by 4 mm is cut unless it is thicker there."""
    face = sphere(RADIUS_MM)
    line = line_through(face, circle(face), 192, 5.0)
    settings = replace(BARE_BAND, stand_off_mm=7.0)
    band = contact_band(face, line, settings, Fillet(6.0, 40.0), 1.8)
    require_over_skin(face, band, line.sigma_stations)
    dip = 4.0 * np.exp(-(((np.arange(192) - 60) / 15.0) ** 2))[:, None]
    sunk = band.grid * (1.0 - dip / np.linalg.norm(band.grid, axis=-1))[..., None]
    rows = np.flatnonzero(band.contact)
    for thicker, whole in ((4.2, True), (1.1, False)):  # 2.4 mm thick and 4 mm deep: 1.6 mm more are needed
        lift = band.lift + dip / 4.0 * thicker
        changed = replace(band, grid=sunk, lift=lift)
        if whole:
            require_over_skin(face, changed, line.sigma_stations)
            continue
        with pytest.raises(BandSinks, match="too deep") as refusal:
            require_over_skin(face, changed, line.sigma_stations)
        assert abs(refusal.value.where.indices[0] - 60) <= 3
        assert np.linalg.norm(sunk[60, rows] - np.array(refusal.value.where.point), axis=1).min() < 12.0


def test_band_is_narrower_by_the_share_that_the_line_has_room_for() -> None:
    """On the sphere: great-circle distances from the seal line, and the measured contact of the body."""
    made = scene("sphere")
    room = np.ones((len(made.line.points), 2))
    room[:, 0], room[:, 1] = 0.75, 0.9
    line = replace(made.line, room=room)
    band = contact_band(made.face, line, made.settings, Fillet(8.0, 60.0), 1.8)
    rows = band.grid[:, band.contact]
    centre = made.face.chart.centre
    unit = (rows - centre) / np.linalg.norm(rows - centre, axis=-1, keepdims=True)
    start = (line.points - centre) / np.linalg.norm(line.points - centre, axis=-1, keepdims=True)
    away = RADIUS_MM * np.arccos((unit * start[:, None]).sum(axis=-1).clip(-1.0, 1.0))
    outer, inner = made.settings.reach.both * room[0]
    # 1 %: chords of a walk, blurred along the line
    assert away[:, 0] == pytest.approx(np.full(len(away), outer), rel=0.01)
    assert away[:, -1] == pytest.approx(np.full(len(away), inner), rel=0.01)
    width = check_fit(made.face, line, band, made.body.mesh).width
    assert width == pytest.approx(np.full(len(width), outer + inner), rel=0.01)


@pytest.mark.parametrize("skin", BARE)
def test_outer_side_is_one_thickness_above_the_skin_and_face_side_below(skin: str) -> None:
    made = scene(skin)
    contact = made.shell.contact
    outer, inner = made.shell.outer_side[:, contact], made.shell.face_side[:, contact]
    # 0.03 mm: the swept skin is blurred over 4 mm, which sinks a curvature of 1 / 75 by s^2 / R / 2 = 0.1
    # along the ray; the grid point's own height over the skin is added back.
    assert height(skin, outer).min() > made.settings.thickness_mm - 0.03
    assert height(skin, outer).max() < made.settings.thickness_mm + 0.25
    assert height(skin, inner).max() < -0.5


def height(skin: str, points: np.ndarray) -> np.ndarray:
    """Exact height over the analytic skin, mm."""
    if skin == "sphere":
        return np.linalg.norm(points, axis=-1) - RADIUS_MM
    if skin == "cylinder":
        return np.hypot(points[..., 0], points[..., 1]) - RADIUS_MM
    return -points[..., 1] - RADIUS_MM


@pytest.mark.costly
@pytest.mark.parametrize("skin", BARE)
@pytest.mark.parametrize("stand_off", [0.0, 1.0, -0.3])
def test_trimmed_body_stands_off_as_asked(skin: str, stand_off: float) -> None:
    """Gap between the finished body and the analytic skin, at 15 places of each triangle."""
    made = scene(skin, stand_off)
    quarters = [(i, j, 4 - i - j) for i in range(5) for j in range(5 - i)]
    points = np.einsum("wc,mcx->mwx", np.array(quarters) / 4.0, made.body.mesh.corners).reshape(-1, 3)
    strip = made.band.grid[:, made.band.contact][:, 1:-1].reshape(-1, 3)
    from scipy.spatial import cKDTree

    low = points[height(skin, points) < stand_off + 0.5]
    under = low[np.isfinite(cKDTree(strip).query(low, distance_upper_bound=1.3)[0])]
    assert len(under) > 2000
    # 0.015 mm: squares of the skin are merged where their triangles follow it that closely
    assert height(skin, under) == pytest.approx(np.full(len(under), stand_off), abs=0.015)


def test_edge_rolls_away_from_the_skin() -> None:
    made = scene("plane")
    rolled = made.band.grid[:, : int(np.argmax(made.band.contact))]
    settings = made.settings
    turn = np.radians(settings.edge_roll_deg)
    # The outermost row is at the end of an arc of the asked radius over the blurred skin.
    start = made.band.grid[:, int(np.argmax(made.band.contact))]
    top = height("plane", rolled[:, 0]) - height("plane", start)
    assert top == pytest.approx(np.full(len(top), settings.edge_radius_mm * (1 - np.cos(turn))), abs=0.05)
    assert (np.diff(height("plane", rolled), axis=1) < 0).all()


def test_band_off_the_scan_is_refused_with_the_place() -> None:
    face = sphere(RADIUS_MM)
    hole = np.where(np.abs(face.points[..., 0] - 45.0) < 4.0, np.nan, face.radii)
    torn = surface_of(face.chart, hole)
    line = line_through(face, circle(face), 96, 5.0)
    with pytest.raises(OffTheScan, match="leaves the scanned skin along") as refusal:
        contact_band(torn, line, BARE_BAND, Fillet(5.0, 72.0), 3.0)
    assert abs(refusal.value.where.point[0] - 45.0) < 6.0
    assert len(refusal.value.where.indices) > 0


def test_band_wider_than_the_curve_allows_is_refused() -> None:
    face = sphere(RADIUS_MM)
    line = line_through(face, circle(face, radius_mm=9.0), 96, 2.0)
    with pytest.raises(DoesNotFit, match="too wide") as refusal:
        contact_band(face, line, BandSettings(width_mm=30.0, inner_share=0.6), Fillet(5.0, 72.0), 3.0)
    assert refusal.value.where.point is not None
    assert "narrower" in refusal.value.fix


def test_thickness_is_the_asked_one_along_the_normal() -> None:
    made = scene("plane")
    for thick in (1.6, 4.0):
        asked = replace(made.settings, thickness_mm=thick)
        band = contact_band(made.face, made.line, asked, Fillet(5.0, 72.0), 1.8)
        assert band.lift[:, band.contact] == pytest.approx(thick, abs=0.01)
