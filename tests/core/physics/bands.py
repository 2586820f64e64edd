"""Contact bands for the tests: flat punches, an analytic face, and a band on a scanned head."""

from __future__ import annotations

import json
from functools import cache

import numpy as np
from sealwright.physics.fit_settings import FitSettings
from sealwright.physics.loop import patch_from_grid
from sealwright.physics.patch import ContactPatch, StrapPull, contact_patch_of, strap_pull_of
from trials.places import open_data


def flat(width: float, length: float, nx: int, ny: int, gap=0.0) -> ContactPatch:
    """A rectangle in the plane z = 0, normals up, cells of equal size."""
    x = (np.arange(nx) + 0.5) / nx * width - width / 2
    y = (np.arange(ny) + 0.5) / ny * length - length / 2
    grid = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    count = len(grid)
    gaps = gap(grid) if callable(gap) else np.full(count, float(gap))
    return contact_patch_of(
        np.column_stack([grid, np.zeros(count)]),
        np.tile([0.0, 0.0, 1.0], (count, 1)),
        np.full(count, width * length / count),
        gaps,
        np.repeat(np.arange(nx), ny),
        np.tile(y, nx),
        np.full(count, 2),
    )


def down(x: float, y: float, newton: float) -> StrapPull:
    return strap_pull_of([x, y, 0.0], [0.0, 0.0, -1.0], newton)


def face_like(
    stations: int = 160, across: int = 13, width: float = 14.0, gap: float = 0.0, phase: float = 0.0
):
    """A band on an ellipsoid (half axes 75, 95, 85 mm) round an egg-shaped line with nose-like waviness.

    The ellipsoid faces -Y like a face; the normals are exact.
    """
    t = 2 * np.pi * (np.arange(stations) + phase) / stations
    a = np.linspace(-width / 2, width / 2, across)
    radius = 1.0 + 0.10 * np.cos(3 * t)
    half = np.array([75.0, 95.0, 85.0])
    direction = np.stack([np.cos(t) / radius, np.sin(t)], axis=1)
    reach = (np.array([42.0, 58.0]) * direction)[:, None, :]
    size = np.linalg.norm(reach, axis=2, keepdims=True)
    plane = reach * (1.0 + a[None, :, None] / size)
    x, z = plane[..., 0], plane[..., 1]
    y = -half[1] * np.sqrt(1.0 - (x / half[0]) ** 2 - (z / half[2]) ** 2)
    points = np.stack([x, y, z], axis=-1)
    normals = points / half**2
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    region = np.select([z > 45, (z > 15) & (abs(x) < 40), z < -48, z < -25], [0, 1, 4, 3], default=2)
    return patch_from_grid(points, normals, gap, a, region)


def yoke(total: float = 10.0, lift: float = 0.0) -> list[StrapPull]:
    """Four straps, two a side, pulling backwards and a little up and down and outwards."""
    out = []
    for x in (-45.0, 45.0):
        for z in (25.0, -25.0):
            way = [0.25 * np.sign(x), 1.0, 0.3 * np.sign(z) + lift]
            out.append(strap_pull_of([x, -85.0, z], way, total / 4))
    return out


def moved(patch: ContactPatch, pulls: list[StrapPull], turn: np.ndarray, shift: np.ndarray):
    """Patch and straps under a rigid motion."""
    new = ContactPatch(
        patch.points @ turn.T + shift,
        patch.normals @ turn.T,
        patch.areas,
        patch.gap_mm,
        patch.station,
        patch.across_mm,
        patch.region,
    )
    return new, [StrapPull(turn @ p.point + shift, turn @ p.direction, p.tension_n) for p in pulls]


@cache
def head_band(name: str = "head-mean", stations: int = 240, across: int = 13, width: float = 14.0):
    """A plausible band on a scanned head: over the nose bridge, beside the nose and mouth, under the chin.

    Returns the grid (s, a, 3), normals (s, a, 3), across (a,), region (s, a) in a frame with -Y out of the
    face.
    """
    import igl
    import trimesh

    path = open_data(name)
    marks = json.loads(open_data("landmarks.json").read_text())[path.name]
    turn = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])  # file: +Y up, +Z out; here: +Z up, -Y out
    origin = np.array(marks["subnasale"])
    mark = {key: turn @ (np.array(value) - origin) for key, value in marks.items()}
    mesh = trimesh.load(path, process=False)
    vertices, faces = (np.asarray(mesh.vertices) - origin) @ turn.T, np.asarray(mesh.faces)
    normals = trimesh.Trimesh(vertices, faces, process=False).vertex_normals
    sellion, menton, cheilion, alare = (
        mark["sellion_approx"], mark["menton_approx"], mark["cheilion_left"], mark["alare_left"],
    )  # fmt: skip
    side = [
        sellion + np.array([0, 0, -9]),
        [alare[0] + 3, alare[1] + 4, 0.45 * sellion[2]],
        [alare[0] + 16, alare[1] + 12, 5.0],
        [cheilion[0] + 20, cheilion[1] + 8, cheilion[2]],
        [cheilion[0] + 8, cheilion[1] + 8, menton[2] + 8],
        menton + np.array([0, 12, -3]),
    ]
    ring = np.array([*side, *[[-x, y, z] for x, y, z in side[-2:0:-1]]])
    from scipy.interpolate import CubicSpline

    closed = np.vstack([ring, ring[:1]])
    spline = CubicSpline(np.r_[0, np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))], closed,
                         bc_type="periodic")  # fmt: skip
    line = spline(np.linspace(0, spline.x[-1], stations, endpoint=False))
    # Snapped to the nearest vertex normal, then offset across and snapped again.
    line, line_normal = _snap(igl, line, vertices, faces, normals)
    along = np.roll(line, -1, axis=0) - np.roll(line, 1, axis=0)
    outer = np.cross(line_normal, along)
    outer /= np.linalg.norm(outer, axis=1, keepdims=True)
    if (outer * (line - line.mean(axis=0))).sum() < 0:
        outer = -outer
    a = np.linspace(-width / 2, width / 2, across)
    grid = line[:, None, :] + a[None, :, None] * outer[:, None, :]
    points, point_normals = _snap(igl, grid.reshape(-1, 3), vertices, faces, normals)
    points, point_normals = points.reshape(grid.shape), point_normals.reshape(grid.shape)
    return points, point_normals, a, _region(points, mark)


def _snap(igl, query, vertices, faces, normals):
    out = igl.point_mesh_squared_distance(np.ascontiguousarray(query), vertices, faces)
    index, closest = out[1], out[2]
    corner = vertices[faces[index]]
    weight = np.clip(_barycentric(closest, corner), 0, 1)
    normal = np.einsum("ij,ijk->ik", weight, normals[faces[index]])
    return closest, normal / np.linalg.norm(normal, axis=1, keepdims=True)


def _barycentric(point, corner):
    u, v, w = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0], point - corner[:, 0]
    uu, uv, vv = (u * u).sum(1), (u * v).sum(1), (v * v).sum(1)
    wu, wv = (w * u).sum(1), (w * v).sum(1)
    det = uu * vv - uv * uv
    b, c = (vv * wu - uv * wv) / det, (uu * wv - uv * wu) / det
    return np.stack([1 - b - c, b, c], axis=1)


def _region(points, mark):
    from sealwright.physics.regions import face_regions

    return face_regions(points.reshape(-1, 3), mark).reshape(points.shape[:2])


def exact(**changes) -> FitSettings:
    """Settings under which nothing is uncertain but what is said."""
    plain = {
        "samples": 8,
        "scan_error_from_scan": False,
        "scan_noise_mm": 0.0,
        "print_error_mm": 0.0,
        "skin_spread": 0.0,
        "shear_spread": 1.0,
        "tension_spread": 0.0,
        "side_spread": 0.0,
        "relief_spread": 1.0,
        "staircase": False,
    }
    return FitSettings(**(plain | changes))
