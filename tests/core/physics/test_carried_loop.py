"""A band carries its loop of stations: it is measured once."""

from __future__ import annotations

import numpy as np
from sealwright.physics.loop import loop_of, patch_from_grid


def test_loop_is_measured_once() -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
    ring = np.stack([np.cos(turn), np.sin(turn), 0.0 * turn], axis=1)
    grid = np.stack([radius * ring for radius in (38.0, 40.0, 42.0)], axis=1)
    up = np.broadcast_to([0.0, 0.0, 1.0], grid.shape)
    patch = patch_from_grid(grid, up, 0.0, np.array([-2.0, 0.0, 2.0]), 0)
    loop = patch.loop
    # A regular 40-gon of radius 40: its perimeter is 80 * 40 * sin(pi / 40).
    assert np.isclose(loop.width_mm.sum(), 3200.0 * np.sin(np.pi / 40.0))
    assert patch.loop is loop is loop_of(patch)
