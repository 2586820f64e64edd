"""Stations and areas of a band against plane geometry."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.physics.loop import loop_of, narrowed, patch_from_grid

RADIUS, WIDTH = 50.0, 14.0


def annulus(stations: int = 180, across: int = 15):
    t = 2 * np.pi * np.arange(stations) / stations
    a = np.linspace(-WIDTH / 2, WIDTH / 2, across)
    ring = np.stack([np.cos(t), np.sin(t), 0 * t], axis=1)
    grid = ring[:, None, :] * (RADIUS + a)[None, :, None]
    return patch_from_grid(grid, np.broadcast_to([0.0, 0.0, 1.0], grid.shape), 0.0, a, 0)


def test_area_and_length_are_those_of_a_ring():
    patch = annulus()
    loop = loop_of(patch)
    # Chords instead of arcs: error (2 pi / 180)^2 / 6 = 2e-4 of the area, a quarter of that for the length.
    assert patch.areas.sum() == pytest.approx(2 * np.pi * RADIUS * WIDTH, rel=3e-4)
    assert loop.width_mm.sum() == pytest.approx(2 * np.pi * RADIUS, rel=1e-4)
    assert np.allclose(np.linalg.norm(loop.line, axis=1), RADIUS)
    depth = np.add.reduceat(loop.depth_mm, loop.starts)
    assert np.allclose(depth, WIDTH, rtol=3e-4)


def test_order_of_the_points_does_not_matter():
    patch = annulus(60, 7)
    shuffle = np.random.default_rng(3).permutation(len(patch.points))
    names = [name for name in patch.__dataclass_fields__ if name != "mix"]
    mixed = type(patch)(*(getattr(patch, name)[shuffle] for name in names))
    assert np.allclose(loop_of(mixed).line, loop_of(patch).line)
    assert np.allclose(loop_of(mixed).width_mm, loop_of(patch).width_mm)


def test_line_is_interpolated_between_points():
    patch = annulus(60, 6)  # an even number: no point lies on the seal line itself
    assert np.allclose(np.linalg.norm(loop_of(patch).line, axis=1), RADIUS, atol=1e-9)


@pytest.mark.parametrize("width", [1.5, 2.0, 5.0, 9.3, 14.0])
def test_a_narrowed_band_keeps_its_share_of_the_area(width):
    patch = narrowed(annulus(), width)
    # Shares of a curved cell cut in the middle: the inner half is smaller by a quarter cell over the radius.
    assert patch.areas.sum() == pytest.approx(2 * np.pi * RADIUS * width, rel=6e-3)
    assert np.abs(patch.across_mm).max() <= width / 2 + 1e-9


def test_narrowing_is_refused_where_nothing_is_left():
    t = annulus(60, 2)  # points only at +-7 mm; their shares end in the middle
    assert narrowed(t, 2.0).areas.sum() == pytest.approx(2 * np.pi * RADIUS * 2.0, rel=0.02)
    with pytest.raises(BadRecipe, match="mm"):
        narrowed(t, 0.0)


def test_stations_on_top_of_each_other_are_refused():
    grid = np.zeros((5, 3, 3))
    grid[:, :, 0] = [-1, 0, 1]
    grid[3:, :, 1] = 5.0
    with pytest.raises(DoesNotFit):
        areas = np.ones(15)
        from sealwright.physics.patch import contact_patch_of

        loop_of(
            contact_patch_of(
                grid.reshape(-1, 3),
                np.tile([0.0, 0, 1], (15, 1)),
                areas,
                np.zeros(15),
                np.repeat(np.arange(5), 3),
                np.tile([-1.0, 0, 1], 5),
                np.zeros(15),
            )
        )
