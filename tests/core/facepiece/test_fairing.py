"""The fair sheet, against the beam and the plate of thin-plate theory."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import lsq_linear
from sealwright.facepiece.fairing import Weights, fair_sheet


def tube(stations: int, rows: int, length: float, radius: float) -> np.ndarray:
    """A straight tube as a grid (n, k, 3): rows along Z."""
    turn = 2 * np.pi * np.arange(stations) / stations
    z = np.linspace(0.0, length, rows)
    ring = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1)
    return np.concatenate(
        [
            np.broadcast_to(ring[:, None], (stations, rows, 2)),
            np.broadcast_to(z[None, :, None], (stations, rows, 1)),
        ],
        axis=-1,
    ).copy()


def test_axially_even_sheet_is_a_clamped_beam() -> None:
    """Between clamped ends the beam of least bending is a cubic (Timoshenko, Strength of Materials)."""
    grid = tube(24, 30, 40.0, 20.0)
    grid[:, -2:, 2] += 10.0
    sheet = fair_sheet(grid, 2, 2).grid
    z = sheet[:, :, 2].mean(axis=0)
    row = np.arange(30.0)
    inner = np.polyfit(row, z, 3)
    # 1e-6 mm: the minimiser of squared second differences is a cubic through the four clamped rows exactly
    assert np.polyval(inner, row) == pytest.approx(z, abs=1e-6)


@pytest.mark.parametrize("waves", [2, 5])
def test_wavy_sheet_is_the_plate_solution(waves: int) -> None:
    """A plate bent to f(y) cos(k s) obeys (d2/dy2 - k2)^2 f = 0: f = (A + B y) e^ky + (C + D y) e^-ky.

    Timoshenko and Woinowsky-Krieger 1959, Theory of Plates and Shells, chapter 5 (from memory).
    """
    stations, rows, length, radius = 96, 61, 30.0, 20.0
    grid = tube(stations, rows, length, radius)
    turn = 2 * np.pi * np.arange(stations) / stations
    grid[:, :2, 2] += np.cos(waves * turn)[:, None]
    sheet = fair_sheet(grid, 2, 2).grid
    flat = tube(stations, rows, length, radius)
    found = 2.0 / stations * (np.cos(waves * turn)[:, None] * (sheet - flat)[:, :, 2]).sum(axis=0)
    y, k = flat[0, :, 2], waves / radius
    basis = np.stack([np.exp(k * y), y * np.exp(k * y), np.exp(-k * y), y * np.exp(-k * y)], axis=1)
    clamped = [0, 1, rows - 2, rows - 1]
    expected = basis @ np.linalg.solve(basis[clamped], found[clamped])
    # 0.01 of a wave 1 mm high: second differences on rows 0.5 mm and stations 1.3 mm apart
    assert found == pytest.approx(expected, abs=0.01)


def test_clamped_rows_stay() -> None:
    rng = np.random.default_rng(1)
    grid = tube(24, 20, 30.0, 20.0) + rng.normal(scale=0.5, size=(24, 20, 3))
    sheet = fair_sheet(grid, 2, 1, lambda points: points * [1.0, 1.0, 0.9]).grid
    assert np.array_equal(sheet[:, :2], grid[:, :2])
    assert np.array_equal(sheet[:, -1], grid[:, -1])


def test_sheet_over_an_obstacle_is_the_obstacle_problem_s_solution() -> None:
    """A tube that must clear a sill, against bounded least squares (scipy) of the same bending energy.

    An axially symmetric tube is one Fourier mode along the stations: its radius r(y) has the curvature
    r'' - r / R^2, R the radius of the stations' circle.
    """
    stations, rows = 24, 41
    grid = tube(stations, rows, 60.0, 20.0)
    sill = np.where(np.abs(grid[0, :, 2] - 30.0) < 8.0, 26.0, 0.0)

    def outside(points: np.ndarray) -> np.ndarray:
        radius = np.hypot(points[..., 0], points[..., 1])
        grow = np.maximum(radius, sill) / radius
        return points * np.stack([grow, grow, np.ones_like(grow)], axis=-1)

    sheet = fair_sheet(
        grid, 2, 2, outside, weights=Weights(rho=0.03)
    )  # so soft at first that bending is not frozen in
    radius = np.hypot(sheet.grid[..., 0], sheet.grid[..., 1])
    ring = 2 * np.cos(2 * np.pi / stations) - 2  # second difference of one wave round the stations
    stretch = (1.5 / (2 * 20.0 * np.sin(np.pi / stations))) ** 2
    bend = np.diff(np.eye(rows), 2, axis=0)
    bend[np.arange(rows - 2), np.arange(1, rows - 1)] += ring * stretch
    kept = [0, 1, rows - 2, rows - 1]
    target = -bend[:, kept] @ np.full(4, 20.0)
    best = lsq_linear(np.delete(bend, kept, axis=1), target, (np.delete(sill, kept), np.inf), tol=1e-12).x
    assert sheet.residual_mm < 0.03  # what it stops at
    # 0.1 mm: three times the residual, at the top of a bulge between two edges
    assert radius[:, 2:-2] == pytest.approx(np.tile(best, (stations, 1)), abs=0.1)


def test_sheet_without_need_is_the_free_one() -> None:
    grid = tube(24, 30, 40.0, 20.0)
    free, bound = fair_sheet(grid, 2, 2).grid, fair_sheet(grid, 2, 2, lambda points: points).grid
    assert bound == pytest.approx(free, abs=0.03)


def test_loaded_sheet_is_the_beam_under_an_even_load() -> None:
    """A beam clamped at both ends under an even load q bends by q L^4 / (384 E I) amid (textbooks)."""
    rows, row, load = 61, 0.5, 2e-4
    grid = tube(24, rows, (rows - 1) * row, 1e4)  # so wide that the turn along the stations plays no part
    push = np.zeros_like(grid)
    push[..., 2] = load * row**4
    sheet = fair_sheet(grid, 2, 2, weights=Weights(load=push)).grid
    length = (rows - 2) * row  # two clamped rows keep place and slope half a row from each end
    bent = (sheet - grid)[0, rows // 2, 2]
    assert bent == pytest.approx(load * length**4 / 384.0, rel=0.02)  # rows are a sixtieth of the beam
