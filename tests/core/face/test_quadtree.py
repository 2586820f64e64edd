"""Squares of several sizes cover a plane once; references: trimesh, and bilinear surfaces worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from sealwright.face.quadtree import Leaves, flat_leaves, leaves_of, triangulated

SIDE = 33


def random_squares(seed: int) -> list[Leaves]:
    """A quartered 32 x 32 square, with a few of the 8 x 8 left out."""
    rng = np.random.default_rng(seed)
    found: dict[int, list[tuple[int, int]]] = {size: [] for size in (16, 8, 4, 2, 1)}

    def quarter(size: int, row: int, column: int) -> None:
        if size == 8 and rng.random() < 0.15:
            return
        if size == 1 or (size < 32 and rng.random() < 0.4):
            found[size].append((row, column))
            return
        half = size // 2
        for down in (0, half):
            for right in (0, half):
                quarter(half, row + down, column + right)

    quarter(32, 0, 0)
    places = {size: np.array(at, dtype=np.int64).reshape(-1, 2) for size, at in found.items()}
    return [Leaves(size, at[:, 0], at[:, 1]) for size, at in places.items()]


@pytest.mark.parametrize("seed", range(12))
def test_any_mix_covers_its_area_once_and_without_gaps(seed: int) -> None:
    squares = random_squares(seed)
    used, faces = triangulated(SIDE, squares)
    row, column = np.divmod(np.arange(SIDE * SIDE), SIDE)
    points = np.stack([column, row, np.zeros_like(row)], axis=1).astype(float)
    area = sum(some.size**2 * len(some.row) for some in squares)
    mesh = trimesh.Trimesh(points, faces, process=False)
    assert (mesh.face_normals[:, 2] == 1.0).all()
    assert mesh.area == pytest.approx(area, rel=1e-12)
    assert (np.flatnonzero(used) == np.unique(faces)).all()
    # An edge of one triangle lies on the outline: no used place lies inside it, and no covered square beyond.
    single = trimesh.grouping.group_rows(mesh.edges_sorted, require_count=1)
    covered = np.zeros((SIDE + 1, SIDE + 1), dtype=bool)
    for some in squares:
        for r, c in zip(some.row, some.column, strict=True):
            covered[r + 1 : r + 1 + some.size, c + 1 : c + 1 + some.size] = True
    outline = (covered[1:, :] != covered[:-1, :]).sum() + (covered[:, 1:] != covered[:, :-1]).sum()
    ends = points[mesh.edges[single]]
    assert np.abs(ends[:, 1] - ends[:, 0]).sum() == outline


def test_plain_squares_mirror_at_the_middle_column() -> None:
    _, faces = triangulated(5, [leaves_of(np.ones((4, 4), dtype=bool), 1)])
    row, column = np.divmod(faces, 5)
    mirrored = np.sort(row * 5 + 4 - column, axis=1)
    assert sorted(map(tuple, mirrored)) == sorted(map(tuple, np.sort(faces, axis=1)))


def test_flat_squares_measures_from_the_two_triangles() -> None:
    values = np.zeros((9, 9))
    values[2, 2] = 0.1  # inside the first square of 4 x 4, on its diagonal
    values[4, 6] = -0.2  # on the side between two squares to the right
    squares = leaves_of(np.ones((2, 2), dtype=bool), 4)
    assert flat_leaves(values, squares, np.zeros(4), np.full(4, 0.05)).tolist() == [
        False,
        False,
        True,
        False,
    ]
    assert flat_leaves(values, squares, np.zeros(4), np.full(4, 0.15)).tolist() == [True, False, True, False]
    assert flat_leaves(values, squares, np.zeros(4), np.full(4, 0.25)).all()
    # One corner lifted by 1: the middle of the square lies at 0 or 1/2, as the diagonal runs.
    twisted = np.zeros((3, 3))
    twisted[0, 2] = 1.0
    twisted[1, 1] = 0.25
    one = Leaves(2, np.array([0]), np.array([0]))
    bent = np.abs(np.array([[0.0, 0.5, 1.0], [0.0, 0.0, 0.5], [0.0, 0.0, 0.0]]) - twisted).max()
    assert bent == 0.5
    assert not flat_leaves(twisted, one, np.zeros(1), np.array([0.49])).any()
    assert flat_leaves(twisted, one, np.zeros(1), np.array([0.51])).all()


def test_flat_squares_on_a_sphere_keeps_the_chords_in_mind() -> None:
    # Worked from the directions of a square's corners, without the formula of the code.
    radius, angle = 75.0, 0.04
    p = np.array([[-1, -1], [-1, 1], [1, 1], [1, -1]]) * angle / 2.0
    far = np.linalg.norm(p, axis=1)
    corners = radius * np.column_stack([p * (np.sin(far) / far)[:, None], np.cos(far)])
    below = radius - np.linalg.norm((corners[0] + corners[2]) / 2.0)
    image, whole = np.full((3, 3), radius), Leaves(2, np.array([0]), np.array([0]))
    bow = np.array([radius * angle**2 / 4.0])
    assert not flat_leaves(image, whole, bow, np.array([0.99 * below])).any()
    assert flat_leaves(image, whole, bow, np.array([1.01 * below])).all()
