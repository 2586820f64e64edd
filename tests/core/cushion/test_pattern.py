"""The cut pattern of a foam strip against the finished body, by trimesh, shapely and readers of files."""

from __future__ import annotations

import io

import ezdxf
import numpy as np
import pypdfium2
import pytest
import trimesh
from lxml import etree
from scipy.spatial import cKDTree
from sealwright.checks.fit import check_entry
from sealwright.cushion.band_face import BandFace, band_face_of
from sealwright.cushion.pattern import Pattern, foam_pattern
from sealwright.designing.design import Design
from sealwright.facepiece.closed_curve import crossings
from sealwright.jobs.cushion_files import cushion_files
from sealwright.solids.soundness import soundness_of
from shapely.geometry import LineString, Polygon

from .designs import NARROW, SCANS, cushioned

pytestmark = pytest.mark.heavy

USUAL, WIDE = (6.0, 15.0), (8.0, 20.0)
WEARERS = ("invented", *SCANS)
EVERY = [(name, size) for name in WEARERS for size in (USUAL, WIDE)]


def cases(rows: list[tuple]) -> list:
    """Wearers and sizes as cases named by their design: all tests of one design run under one Python."""
    return [
        pytest.param(name, size, id=f"{name}-{size}", marks=() if name == "invented" else pytest.mark.scans)
        for name, size in rows
    ]


def pattern_of(design: Design) -> Pattern:
    assert design.cushion is not None and design.cushion.pattern is not None
    return design.cushion.pattern


def mesh_area_between_rows(design: Design, count: int = 400_000) -> float:
    """Area of the finished body's face between first and last row, by trimesh's samples of its surface.

    A sample counts when the nearest point of a dense net over the band's rows is not on the net's border.
    """
    assert design.band is not None
    rows = design.band.grid[:, design.band.contact]
    share = np.linspace(0.0, 1.0, 9)[None, :, None, None]
    after = np.roll(rows, -1, axis=0)
    dense = ((1 - share) * rows[:, None] + share * after[:, None])[:, :-1].reshape(-1, rows.shape[1], 3)
    # Strips of an eighth of a row; the first and the last lie outside, the border is half way to them.
    step = (np.arange((rows.shape[1] - 1) * 8 + 2) - 0.5) / 8.0
    low = np.clip(step.astype(int), 0, rows.shape[1] - 2)
    net = dense[:, low] + (step - low)[None, :, None] * (dense[:, low + 1] - dense[:, low])
    body = design.parts["body"].mesh
    mesh = trimesh.Trimesh(body.vertices, body.faces, process=False)
    near = cKDTree(rows.reshape(-1, 3)).query(mesh.triangles_center)[0] < 12.0
    mesh.update_faces(near)
    points, face = trimesh.sample.sample_surface(mesh, count, seed=1)
    # The outer side of the band is as near to the net where the band is thin; it faces away from the skin.
    ray = points - design.prepared.face.chart.centre
    points = points[(mesh.face_normals[face] * ray).sum(axis=1) < 0.0]
    distance, index = cKDTree(net.reshape(-1, 3)).query(points, distance_upper_bound=1.5)
    row = index % net.shape[1]
    inside = (row > 0) & (row < net.shape[1] - 1) & np.isfinite(distance)
    return float(mesh.area * inside.sum() / count)


@pytest.mark.parametrize(("name", "size"), cases(EVERY))
def test_pattern_has_the_area_and_length_of_the_finished_band(name: str, size: tuple[float, float]) -> None:
    design = cushioned(name, "foam", *size)
    pattern = pattern_of(design)
    # 1 %, our own bound; the samples themselves are good to 0.4 %.
    assert sum(Polygon(p.outline).area for p in pattern.pieces) == pytest.approx(
        mesh_area_between_rows(design), rel=0.01
    )
    line = band_face_of(design.band, design.parts["body"].mesh).line
    closed = LineString(np.concatenate([line, line[:1]]))
    length = float(np.linalg.norm(np.diff(np.array(closed.coords), axis=0), axis=1).sum())
    assert sum(LineString(p.line).length for p in pattern.pieces) == pytest.approx(length, rel=0.01)
    assert 2 <= len(pattern.pieces) <= 4
    assert pattern.stretch_p95 < 0.03


STOOD_OFF = cases([*EVERY, (NARROW, USUAL), (SCANS[1], (12.0, 26.0))])


@pytest.mark.parametrize(("name", "size"), STOOD_OFF)
def test_hard_body_stands_off_sound_and_the_cushion_reaches_the_skin(name: str, size: tuple) -> None:
    design = cushioned(name, "foam", *size)
    assert not soundness_of(design.parts["body"].mesh, "body").problems
    assert design.fit is not None and design.entry is not None
    assert design.fit.facts.contact_share >= 0.98
    assert abs(design.fit.facts.gap_median_mm) < 0.05
    assert design.entry.deepest_mm == 0.0
    assert (
        check_entry(design.prepared.face, design.parts["body"].mesh, design.band.stand_off).deepest_mm == 0.0
    )


@pytest.mark.parametrize(("name", "size"), cases([(name, USUAL) for name in WEARERS]))
def test_pieces_are_simple_and_the_adhesive_stays_inside(name: str, size: tuple[float, float]) -> None:
    for piece in pattern_of(cushioned(name, "foam", *size)).pieces:
        cut, tape = Polygon(piece.outline), Polygon(piece.tape)
        assert cut.is_valid and tape.is_valid
        assert not crossings(piece.outline).any()
        assert cut.contains(tape)
        assert cut.exterior.distance(tape.exterior) == pytest.approx(1.0, abs=0.25)
        assert cut.buffer(0.01).contains(LineString(piece.line))


def test_crossing_polygons_are_known_as_such() -> None:
    assert crossings(np.array([[0.0, 0], [1, 1], [1, 0], [0, 1]])).any()
    assert not crossings(np.array([[0.0, 0], [1, 0], [1, 1], [0.4, 0.5], [0, 1]])).any()


def ring_face(height: float, radius: float = 45.0, width: float = 15.0) -> BandFace:
    """A cone's band, which is developable: height 0 is a flat ring, large is a cylinder."""
    turn = 2 * np.pi * np.arange(192) / 192
    across = np.linspace(0.55, -0.45, 10) * width
    slope = np.array([1.0, height]) / np.hypot(1.0, height)
    r, y = radius + across * slope[0], -across * slope[1]
    grid = np.stack([np.outer(np.cos(turn), r), np.tile(y, (192, 1)), np.outer(np.sin(turn), r)], axis=-1)
    return BandFace(grid, across)


@pytest.mark.parametrize("height", [0.0, 0.5, 2.0, 20.0])
def test_developable_bands_lie_flat_without_stretch(height: float) -> None:
    """Cones and cylinders are developable (Gauss): every length stays; chords of 192 stations err by 1e-4."""
    face = ring_face(height)
    pattern = foam_pattern(face)
    assert pattern.stretch_max < 2e-3
    # Frustum: area = pi (r1 + r2) times the slant width, any handbook.
    r = np.linalg.norm(face.grid[0][[0, -1]][:, [0, 2]], axis=1)
    assert pattern.area_mm2 == pytest.approx(np.pi * r.sum() * 15.0, rel=1e-3)


def test_sphere_cannot_lie_flat_and_the_stretch_says_so() -> None:
    """Gauss: no part of a sphere lies flat; circles at b from a great one are shorter by (b/R)^2 / 2.

    With the middle laid out in full length the edges would be too long by that; shared out it is less.
    """
    turn = 2 * np.pi * np.arange(192) / 192
    across = np.linspace(0.5, -0.5, 11) * 40.0
    angle = np.radians(90.0) + across / 50.0  # a great circle's band, half width 20 on radius 50
    grid = 50.0 * np.stack(
        [
            np.outer(np.cos(turn), np.sin(angle)),
            np.tile(np.cos(angle), (192, 1)),
            np.outer(np.sin(turn), np.sin(angle)),
        ],
        axis=-1,
    )
    pattern = foam_pattern(BandFace(grid, across))
    assert 0.01 < pattern.stretch_max < 0.5 * (20 / 50) ** 2


def test_pattern_is_seen_from_the_skin() -> None:
    """Outer edge, way along and the normal towards the skin make a right-handed system on the sheet too."""
    design = cushioned()
    face, pattern = band_face_of(design.band), pattern_of(design)
    line, outer = face.line, face.grid[:, 0]
    along = np.roll(line, -1, axis=0) - line
    in_space = np.sign((np.cross(along, outer - line) * -face.normals[:, 5]).sum(axis=1))
    assert abs(in_space.mean()) == 1.0
    for piece in pattern.pieces:
        middle = len(piece.line) // 2
        way = piece.line[middle + 1] - piece.line[middle]
        # The outer edge comes first in the outline: its points near the middle of the piece.
        out = piece.outline[
            np.argmin(np.linalg.norm(piece.outline[: middle * 2] - piece.line[middle], axis=1))
        ]
        side = np.sign(way[0] * (out - piece.line[middle])[1] - way[1] * (out - piece.line[middle])[0])
        assert side == in_space[0]


def test_files_are_read_back_at_full_size() -> None:
    design = cushioned()
    pattern, files = pattern_of(design), cushion_files(design)
    assert set(files) == {"cushion-pattern.pdf", "cushion-pattern.svg", "cushion-pattern.dxf"}
    areas = sorted(piece.area_mm2 for piece in pattern.pieces)
    document = ezdxf.read(io.StringIO(files["cushion-pattern.dxf"].decode("ascii")))
    assert document.dxfversion == "AC1009"
    assert not document.audit().errors
    cuts = document.modelspace().query('POLYLINE[layer=="CUT"]')
    read = sorted(Polygon([v.dxf.location.vec2 for v in cut.vertices]).area for cut in cuts)
    assert read == pytest.approx(areas, rel=1e-4)
    assert all(cut.is_closed for cut in cuts)
    root = etree.fromstring(files["cushion-pattern.svg"])
    assert root.get("width") == f"{float(root.get('viewBox').split()[2]):g}mm"  # one unit is one millimetre
    found = root.findall('.//{*}polygon[@class="cut"]')
    points = [[tuple(map(float, p.split(","))) for p in item.get("points").split()] for item in found]
    assert sorted(Polygon(p).area for p in points) == pytest.approx(areas, rel=1e-4)


def test_pdf_draws_the_ruler_100_mm_long() -> None:
    """As a renderer of its own (PDFium) draws it: ISO 216 A4 page, black ruler line of 100 mm."""
    document = pypdfium2.PdfDocument(cushion_files(cushioned())["cushion-pattern.pdf"])
    page = document[0]
    assert page.get_size() == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.01)
    scale = 5.0  # pixels per millimetre
    image = np.asarray(
        page.render(scale=scale * 25.4 / 72, no_smoothpath=True).to_pil().convert("RGB")
    ).astype(int)
    black = image.max(axis=2) < 128
    longest = max(black[: int(60 * scale)].sum(axis=1))
    assert longest / scale == pytest.approx(100.0, abs=0.5)
    red = (image[..., 0] > 150) & (image[..., 1] < 120)
    assert red.sum() > 1000


def test_same_face_gives_the_same_pattern() -> None:
    face = band_face_of(cushioned().band, cushioned().parts["body"].mesh)
    for one, two in zip(foam_pattern(face).pieces, foam_pattern(face).pieces, strict=True):
        assert np.array_equal(one.outline, two.outline)
