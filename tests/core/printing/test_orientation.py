"""Ways up: shapes whose best one is known, invariance to turning."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import trimesh
from sealwright.printing.orientation import best_orientations, turning_up
from sealwright.printing.printer import PrinterSettings
from sealwright.printing.supports import overhang_area
from sealwright.solids.boolean import Solid

M = manifold3d.Manifold
PRINTER = PrinterSettings(overhang_limit_deg=45.0)
TILT = trimesh.transformations.rotation_matrix(1.1, [0.3, -0.8, 0.5])


def cup() -> Solid:
    return Solid("cup", M.cylinder(40, 20, 20, 96) - M.cylinder(40, 17, 17, 96).translate((0, 0, 3)))


def mushroom() -> Solid:
    return Solid("mushroom", M.cylinder(30, 5, 5, 64) + M.cylinder(6, 20, 20, 64).translate((0, 0, 30)))


@pytest.mark.parametrize(("solid", "up"), [(cup(), [0, 0, 1]), (mushroom(), [0, 0, -1])])
@pytest.mark.parametrize("turn", [np.eye(4), TILT])
def test_known_best_way_up(solid: Solid, up: list[float], turn: np.ndarray) -> None:
    best = best_orientations(solid.moved(turn), PRINTER)[0]
    # The search works on a body simplified by 0.1 mm, which tilts hull faces by a fraction of a degree.
    assert best.up @ (turn[:3, :3] @ np.array(up)) > np.cos(np.radians(1.0))
    assert best.support_free and best.overhang_mm2 < 1.0


def test_support_free_comes_before_less_overhang() -> None:
    looked = [o for o in best_orientations(cup(), PRINTER) if o.islands >= 0]
    free = [o.support_free for o in looked]
    assert free == sorted(free, reverse=True) and len(looked) == 5


def test_preferred_direction_is_always_examined() -> None:
    preferred = np.array([0.2, 0.5, -0.3])
    found = best_orientations(mushroom(), PRINTER, [preferred])
    unit = preferred / np.linalg.norm(preferred)
    assert any(o.islands >= 0 and np.allclose(o.up, unit) for o in found)


def test_overhang_of_directions_agrees_with_the_turned_part() -> None:
    solid = mushroom()
    for one in best_orientations(solid, PRINTER)[:8]:
        turned = solid.moved(one.matrix)
        # Simplified by 0.1 mm against the full part, and facets near the limit: a few square millimetres.
        assert one.overhang_mm2 == pytest.approx(overhang_area(turned.mesh, 45.0), abs=25.0)
        assert one.height_mm == pytest.approx(turned.mesh.extents[2], abs=0.2)


@pytest.mark.parametrize("up", [[0, 0, 1], [0, 0, -1], [1, 0, 0], [0.3, -0.5, -0.8], [1e-9, 0, -1]])
def test_turning_brings_up_to_the_top(up: list[float]) -> None:
    matrix = turning_up(np.array(up))
    assert np.allclose(matrix[:3, :3] @ up / np.linalg.norm(up), [0, 0, 1], atol=1e-8)
    assert np.allclose(matrix[:3, :3] @ matrix[:3, :3].T, np.eye(3), atol=1e-8)
    assert np.linalg.det(matrix[:3, :3]) == pytest.approx(1.0)


def test_two_runs_agree() -> None:
    first, second = (best_orientations(cup(), PRINTER) for _ in range(2))
    assert [tuple(o.up) for o in first] == [tuple(o.up) for o in second]


def test_fine_body_has_a_best_way_up() -> None:
    shell = M.sphere(40, 420) - M.sphere(37.5, 420)
    body = shell.trim_by_plane((0, 1, 0), -10) - M.cylinder(90, 15, 15, 128).rotate((90, 0, 0))
    assert body.num_tri() > 100_000
    best = best_orientations(Solid("shell", body), PRINTER)[0]
    # Open side down or up: the axis of the opening, along Y, to the few degrees between candidates.
    assert abs(best.up[1]) > 0.97
