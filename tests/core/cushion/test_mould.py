"""The cast lip, its mould and the printed liner, judged by trimesh's rays and distances."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import trimesh
from sealwright.cushion.band_face import BandFace, band_face_of
from sealwright.cushion.lip import Lip, draw_direction, lip_of, whole_lip
from sealwright.cushion.mould import Mould, mould_of
from sealwright.designing.design import Design
from sealwright.errors import DoesNotFit
from sealwright.face.surface import FaceSurface
from sealwright.jobs.cushion_files import cushion_files
from sealwright.mesh import TriMesh
from sealwright.solids.crossings import crossing_pairs
from sealwright.solids.distance import MeshDistance
from sealwright.solids.soundness import soundness_of

from .designs import cushioned

pytestmark = pytest.mark.heavy

HALVES = {"mould-a": 1.0, "mould-b": -1.0}


def as_trimesh(mesh: TriMesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)


def distances(mesh: trimesh.Trimesh, points: np.ndarray) -> np.ndarray:
    """Distances (n,) of points from a surface, by libigl."""
    faces = np.asarray(mesh.faces, dtype=np.int32)
    return MeshDistance(TriMesh(np.asarray(mesh.vertices, dtype=float), faces)).to(np.asarray(points))


def blocked(mesh: trimesh.Trimesh, start: np.ndarray, direction: np.ndarray) -> bool:
    """Whether rays meet a mesh beyond 0.01 mm; each with every triangle (Moeller and Trumbore 1997)."""
    corner, other, third = (np.asarray(mesh.triangles)[:, number] for number in range(3))
    for origin, way in zip(start, direction, strict=True):
        across = np.cross(way, third - corner)
        volume = (across * (other - corner)).sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            u = (across * (origin - corner)).sum(axis=1) / volume
            turn = np.cross(origin - corner, other - corner)
            v = (turn * way).sum(axis=1) / volume
            along = (turn * (third - corner)).sum(axis=1) / volume
        if ((u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (along > 0.01)).any():
            return True
    return False


def design(name: str = "invented") -> Design:
    return cushioned(name, "lip", 4.0)


@cache
def made(name: str) -> tuple[Lip, Mould]:
    """Lip and mould of a finished design, worked out again from it, without shrinkage."""
    found = design(name)
    assert found.band is not None and found.cushion is not None
    body = found.parts["body"].mesh
    lip = lip_of(found.prepared.face, band_face_of(found.band, body), found.cushion.cushion, body)
    return lip, mould_of(lip)


NAMES = [
    "invented",
    pytest.param("head-a", marks=pytest.mark.scans),
    pytest.param("raw-scan-a", marks=pytest.mark.scans),
]


@pytest.mark.parametrize("name", NAMES)
def test_halves_are_sound_and_stand_flat(name: str) -> None:
    for half, solid in made(name)[1].halves.items():
        assert not soundness_of(solid.mesh, half).problems
        mesh = as_trimesh(solid.mesh)
        assert mesh.is_watertight and mesh.is_volume
        flat = mesh.triangles[:, :, 2].max(axis=1) < 1e-6
        assert mesh.area_faces[flat].sum() > 8000.0  # stands on the bed on all of its base
        assert mesh.bounds[0, 2] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_halves_open_along_the_draw_without_undercut(name: str) -> None:
    """From every place of the cavity a ray along the draw direction leaves its half without meeting it."""
    for half, way in HALVES.items():
        mesh = as_trimesh(made(name)[1].closed[half].mesh)
        facing = mesh.face_normals[:, 2] * way
        below = facing < -np.sin(np.radians(0.1))
        base = np.abs(facing) > 0.999
        assert mesh.area_faces[below & ~base].sum() == 0.0
        points, face = trimesh.sample.sample_surface(mesh, 20_000, seed=2)
        up = facing[face] > 1e-3
        start = points[up] + [0.0, 0.0, 1e-4 * way]
        direction = np.tile([0.0, 0.0, way], (len(start), 1))
        met = mesh.ray.intersects_any(start, direction)
        # The quick tracer counts in single precision and meets the steep triangle that a ray starts on; what
        # it meets is looked at again in double precision: a place well along the ray must be outside.
        assert not blocked(mesh, start[met], direction[met])


@pytest.mark.parametrize("name", NAMES)
def test_halves_close_without_gap_or_overlap(name: str) -> None:
    closed = made(name)[1].closed
    one, two = as_trimesh(closed["mould-a"].mesh), as_trimesh(closed["mould-b"].mesh)
    for first, second in ((one, two), (two, one)):
        points = trimesh.sample.sample_surface(first, 20_000, seed=5)[0]
        inside = second.contains(points)
        depth = distances(second, points[inside]) if inside.any() else np.zeros(1)
        assert depth.max() < 1e-6  # what lies on the shared surface may count as inside
    # The rims share their triangles: most of the outer rim of one lies on the other at distance zero.
    points, face = trimesh.sample.sample_surface(one, 40_000, seed=3)
    away = distances(two, points)
    upward = one.face_normals[face, 2] > 0.2
    touching = one.area * (upward & (away < 1e-9)).mean()
    assert touching > 4000.0
    assert away.min() < 1e-9


def test_cavity_is_the_lip() -> None:
    """What neither half fills inside the closed mould is the lip, its channels and the play of the keys."""
    lip, mould = made("invented")
    core = as_trimesh(mould.lip)
    centre = trimesh.sample.sample_surface(core, 5000, seed=4)[0]
    # Lip and half may halve a quad along different diagonals: they differ by no more than those two do.
    after = np.roll(lip.skin, -1, axis=0)
    twist = 0.5 * (lip.skin[:, :-1] + after[:, 1:] - lip.skin[:, 1:] - after[:, :-1])
    allowed = float(np.linalg.norm(twist, axis=-1).max())
    for half in HALVES:
        mesh = as_trimesh(mould.closed[half].mesh)
        hits = mesh.contains(centre)
        depth = distances(mesh, centre[hits]) if hits.any() else np.zeros(1)
        assert depth.max() < allowed + 1e-6
        assert np.quantile(depth, 0.99) < 0.05
    volume = as_trimesh(lip.mesh).volume
    assert core.volume == pytest.approx(volume, rel=1e-9)


def test_lip_is_as_thick_as_asked_and_lies_on_skin_and_band() -> None:
    lip, _ = made("invented")
    found = design()
    across = as_trimesh(found.prepared.face.mesh)
    skin = lip.skin[:, 4:-4].reshape(-1, 3)
    away = np.abs(distances(across, skin))
    # Seated it is pressed by 5 % of 4 mm: its free skin side lies so far below the skin.
    assert np.median(away) == pytest.approx(0.2, abs=0.03)
    assert np.quantile(away, 0.99) < 0.2 + 0.25
    body = as_trimesh(found.parts["body"].mesh)
    off_band = distances(body, lip.hard.reshape(-1, 3))
    assert np.quantile(off_band, 0.95) < 0.02
    assert off_band.max() < lip.eased_mm + 0.01  # what was evened out so that the mould opens is told
    assert lip.eased_mm < 1.0
    assert np.median(np.linalg.norm(lip.hard - lip.skin, axis=-1)) == pytest.approx(4.0, abs=0.1)


def test_shrinkage_makes_the_mould_larger_and_volumes_add_up() -> None:
    lip, plain = made("invented")
    larger = mould_of(lip, 1.0)
    ratio = as_trimesh(larger.lip).volume / as_trimesh(plain.lip).volume
    assert ratio == pytest.approx((1.0 / 0.99) ** 3, rel=1e-9)
    cushion = design().cushion
    assert cushion is not None and cushion.worn is not None
    poured = cushion.mould.poured_ml * 1000.0
    assert poured > 1.1 * as_trimesh(cushion.worn.mesh).volume + 5000.0
    assert poured < 2.5 * cushion.worn.volume + 5000.0


def test_draw_direction_is_the_axis_of_a_cone() -> None:
    """Normals on a cone of 60 degrees round an axis: the best direction is the axis, its cosine one half."""
    axis = np.array([0.36, -0.8, 0.48])
    side = np.cross(axis, [0.0, 0.0, 1.0])
    side = side / np.linalg.norm(side)
    turn = np.linspace(0.0, 2 * np.pi, 40, endpoint=False)[:, None]
    ring = np.cos(turn) * side + np.sin(turn) * np.cross(axis, side)
    normals = 0.5 * axis + np.sqrt(0.75) * ring
    uneven = np.concatenate([normals, np.repeat(normals[:1], 500, axis=0)])
    found = draw_direction(uneven)
    assert (uneven @ found).min() == pytest.approx(0.5, abs=0.01)


def test_band_round_a_ball_is_refused() -> None:
    turn = 2 * np.pi * np.arange(96) / 96
    tilt = np.radians(np.linspace(80.0, 125.0, 10))
    grid = 60.0 * np.stack(
        [
            np.outer(np.cos(turn), np.sin(tilt)),
            -np.tile(np.cos(tilt), (96, 1)),
            np.outer(np.sin(turn), np.sin(tilt)),
        ],
        axis=-1,
    )
    found = design()
    assert found.cushion is not None
    face: FaceSurface = found.prepared.face
    with pytest.raises(DoesNotFit, match=r"could not be opened|turns back"):
        body = trimesh.creation.icosphere(subdivisions=4, radius=60.0)
        mesh = TriMesh(np.asarray(body.vertices), np.asarray(body.faces, dtype=np.int32))
        lip_of(face, BandFace(grid[:, ::-1], np.linspace(8, -7, 10)), found.cushion.cushion, mesh)


def test_files_of_a_lip() -> None:
    files = cushion_files(design())
    assert set(files) == {"mould-a.stl", "mould-b.stl", "mould.3mf"}
    read = trimesh.load(trimesh.util.wrap_as_stream(files["mould-a.stl"]), file_type="stl")
    assert read.is_watertight


def test_liner_keys_into_the_body() -> None:
    found = cushioned("invented", "liner", 3.0)
    assert found.cushion is not None
    body, liner = as_trimesh(found.parts["body"].mesh), as_trimesh(found.parts["liner"].mesh)
    plain = as_trimesh(cushioned("invented", "lip", 3.0).parts["body"].mesh)
    for name in ("body", "liner"):
        assert not soundness_of(found.parts[name].mesh, name).problems
    depth = found.cushion.groove_depth_mm
    assert depth == pytest.approx(0.45 * 2.4)
    # Groove: mean width of neck and base times depth times length of the seal line, with its play.
    length = band_face_of(found.band).length_mm
    assert plain.volume - body.volume == pytest.approx(4.5 * (depth + 0.15) * length, rel=0.1)
    # The ridge stands in the groove with play and nowhere in the body.
    points = trimesh.sample.sample_surface(liner, 20_000, seed=6)[0]
    inside = body.contains(points)
    deep = distances(body, points[inside]) if inside.any() else np.zeros(1)
    # Chords of the soft liner over the kink of the hard face in a crease, which the hard face follows.
    assert np.quantile(deep, 0.99) < 0.1
    assert deep.max() < 0.25
    ridge = plain.contains(points)
    assert ridge.mean() > 0.05
    assert np.median(distances(body, points[ridge])) == pytest.approx(0.15, abs=0.05)


def test_skin_side_of_a_liner_that_crosses_itself_is_evened_out_there_alone() -> None:
    turn = 2.0 * np.pi * np.arange(96) / 96
    radii = np.linspace(52.0, 40.0, 9)
    hard = np.stack(
        [np.outer(np.cos(turn), radii), np.outer(np.sin(turn), radii), np.zeros((96, 9))], axis=-1
    )
    skin = hard - [0.0, 0.0, 4.0]
    folded = skin.copy()
    folded[10, 4], folded[11, 4] = skin[11, 4], skin[10, 4]
    draw = np.array([0.0, 0.0, 1.0])
    assert len(crossing_pairs(Lip(hard, folded, draw).mesh))
    mended = whole_lip(Lip(hard, folded, draw))
    assert len(crossing_pairs(mended.mesh)) == 0  # CGAL's test in exact arithmetic
    assert 0.0 < mended.eased_mm < 2.0  # an edge of the grid is 3 mm long
    kept = np.ones(96, dtype=bool)
    kept[4:18] = False
    assert np.array_equal(mended.skin[kept], folded[kept])
    with pytest.raises(DoesNotFit):
        whole_lip(Lip(hard, skin[::-1], draw))
