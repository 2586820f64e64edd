"""What makes a body print without supports, on analytic skins: clearance, port, wall, band, lugs."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import trimesh
from sealwright.facepiece.band_ends import Fillet
from sealwright.facepiece.chamber_wall import ChamberWall, Throat, chamber_wall
from sealwright.facepiece.clearance_field import LEAST_LEAVE_DEG, ClearanceField
from sealwright.facepiece.overhang import overhang_deg, print_down
from sealwright.facepiece.shell import make_shell
from sealwright.facepiece.strap_points import StrapSettings, strap_points
from sealwright.hardware.allowance import AllowanceSettings, allowance_of
from sealwright.hardware.lug_wall import PLACES
from sealwright.hardware.lugs import lowest_tip

from .bands import contact_band
from .scenes import RADIUS_MM, port_at, scene

CLEARANCE_MM, FILLET_MM, LEAVE_DEG, THROAT_MM = 7.0, 5.0, 72.0, 17.4
DOWN_AXIS = np.array([0.0, -1.0, 0.0])


@cache
def field(skin: str) -> ClearanceField:
    band = scene(skin).band
    inner = band.inner_end
    return ClearanceField(scene(skin).face, CLEARANCE_MM, inner, FILLET_MM, LEAVE_DEG)


def test_field_keeps_the_clearance_in_the_middle_and_fades_to_the_skin_at_the_band() -> None:
    on_axis = np.array([[0.0, -RADIUS_MM - 1.0, 0.0]])
    out = -field("sphere").push_out(on_axis)[0, 1] - RADIUS_MM
    # the field's own margin is 0.35 mm
    assert out == pytest.approx(CLEARANCE_MM + 0.35, abs=0.05)
    band = scene("sphere").band
    inner = band.inner_end
    assert field("sphere").shortfall(inner).max() < 0.1
    outside = band.grid[:, 6]
    assert field("sphere").shortfall(outside).max() < 0.1


def test_straight_wall_off_the_fillet_is_allowed_on_a_plane() -> None:
    """On flat skin the fading balls touch a wall that leaves the fillet at the least angle."""
    band = scene("plane").band
    inner = band.inner_end
    inward = -inner * np.array([1.0, 0.0, 1.0])
    inward /= np.linalg.norm(inward, axis=1, keepdims=True)
    rise = math.radians(LEAST_LEAVE_DEG)
    start = inner + FILLET_MM * (math.sin(rise) * inward + (1.0 - math.cos(rise)) * DOWN_AXIS)
    for walked in (2.0, 5.0, 10.0):
        points = start + walked * (math.cos(rise) * inward + math.sin(rise) * DOWN_AXIS)
        # the margin of 0.35 mm square to the wall, and the pixels
        assert field("plane").shortfall(points).max() < 0.35 / math.cos(rise)


def test_lack_of_room_is_the_distance_to_the_port_that_clears_the_skin() -> None:
    """On the axis of a plane the flattest wall over a ball of the clearance ends in a known place."""
    near = field("plane")
    for front in (10.0, 25.0):
        down = print_down(port_at(front), THROAT_MM, 45.0)
        # In the middle the cone's tip is what counts, THROAT / tan over the throat; balls of 7.35 mm under it
        # want their size / sin more.
        needed = (CLEARANCE_MM + 0.35) / math.sin(math.pi / 4) - THROAT_MM / math.tan(math.pi / 4)
        lacks = near.lacks_room_mm(down)
        assert lacks >= needed - front - 1e-6
        moved = print_down(port_at(front + 4.0), THROAT_MM, 45.0)
        assert near.lacks_room_mm(moved) == pytest.approx(lacks - 4.0, abs=1e-6)


@cache
def limited(skin: str, front_mm: float, limit_deg: float) -> tuple[ChamberWall, object]:
    """The wall of a scene under an overhang limit, its port let out as far as skin and fillets need."""
    base = scene(skin)
    down = print_down(port_at(front_mm), THROAT_MM, limit_deg)
    front_mm += max(field(skin).lacks_room_mm(down), 0.0)
    down = print_down(port_at(front_mm), THROAT_MM, limit_deg)
    band = contact_band(base.face, base.line, base.settings, Fillet(FILLET_MM, LEAVE_DEG, down), 1.8)
    front_mm += max(1.0 - float(down.room_mm(band.grid[:, -1]).min()), 0.0)
    down = print_down(port_at(front_mm), THROAT_MM, limit_deg)
    wall = chamber_wall(band, Throat(port_at(front_mm), THROAT_MM), field(skin), 1.8, down)
    return wall, make_shell(band, wall, 2.4, base.line.sigma_stations, down)


@pytest.mark.parametrize("limit", [35.0, 45.0])
@pytest.mark.parametrize("skin", ["sphere", "plane", "cylinder"])
def test_wall_keeps_the_limit_where_the_port_is_let_out(skin: str, limit: float) -> None:
    wall, shell = limited(skin, 12.0, limit)
    down = print_down(port_at(40.0), THROAT_MM, limit)
    assert wall.sheet.residual_mm < 0.03
    steep = overhang_deg(wall.grid[:, 1:], down)
    # tenths of a degree: the fairing stops at 0.03 mm over rows of 1 to 2 mm
    assert np.percentile(steep, 99.0) < limit + 0.5
    assert steep.max() < limit + 1.5
    outer = np.concatenate([shell.edge[:, ::-1], shell.outer_side], axis=1)
    assert overhang_deg(outer, down).max() < limit + 3.0


def test_fill_takes_part_in_the_shell_and_leaves_the_plain_wall() -> None:
    _, shell = limited("sphere", 60.0, 45.0)
    # the band hangs over by 50 to 60 degrees, the wall below it leans by about 20
    assert shell.filled.any()
    assert not shell.filled[:, shell.wall][:, -5:].any()
    thick = shell.thickness_mm
    assert thick[shell.filled].max() > 4.0
    plain = ~shell.filled[:, shell.wall]
    assert thick[:, shell.wall][plain] == pytest.approx(2.4, abs=0.06)


def test_lugs_are_level_in_the_print_mirrored_and_on_the_wall() -> None:
    _, shell = limited("sphere", 60.0, 45.0)
    settings, allowance = StrapSettings(), allowance_of(AllowanceSettings())
    points = strap_points(shell, settings, DOWN_AXIS, allowance)
    assert len(points) == settings.lug.count
    count = len(shell.outer_side)
    for left, right in zip(points[::2], points[1::2], strict=True):
        assert left.station + right.station == count
    for point in points:
        x, y, z = point.frame[:3, :3].T
        assert y == pytest.approx(-DOWN_AXIS)
        assert x @ DOWN_AXIS == pytest.approx(0.0, abs=1e-12)
        assert z @ np.cross(x, y) == pytest.approx(1.0)
        near = np.linalg.norm(shell.outer_side - point.frame[:3, 3], axis=-1).min()
        assert near < 2.0
        # the tabulated wall passes through the origin
        assert float(point.wall.at(PLACES // 2, 0.0)) == pytest.approx(0.0, abs=0.1)
        assert lowest_tip(settings.lug, allowance, point.wall) > -30.0


def test_no_lugs_are_asked_for() -> None:
    _, shell = limited("sphere", 12.0, 45.0)
    none = replace(StrapSettings(), lug=replace(StrapSettings().lug, count=0))
    assert strap_points(shell, none, DOWN_AXIS, allowance_of(AllowanceSettings())) == []


@pytest.mark.parametrize("limit", [None, 45.0])
def test_a_drawn_wall_holds_less_air_and_keeps_clearance_and_limit(limit: float | None) -> None:
    # Volume under a wall, closed by a flat lid in the port, by trimesh; the skin is a plane.
    base, skin = scene("plane"), field("plane")
    down = None if limit is None else print_down(port_at(55.0), THROAT_MM, limit)
    band = contact_band(base.face, base.line, base.settings, Fillet(FILLET_MM, LEAVE_DEG, down), 1.8)
    walls = [
        chamber_wall(band, Throat(port_at(55.0), THROAT_MM), skin, 1.8, down, drawn)
        for drawn in (False, True)
    ]
    held = [air_mm3(wall.grid) for wall in walls]
    assert held[1] < 0.95 * held[0]
    for wall in walls:
        assert wall.sheet.residual_mm < 0.03
        assert (
            skin.shortfall(wall.grid[:, 2:-1]).max() < 0.1
        )  # the fairing's 0.03 mm, along rays and between pixels
    if down is not None:
        assert np.percentile(overhang_deg(walls[1].grid[:, 1:], down), 99.0) < limit + 0.5


def air_mm3(grid: np.ndarray) -> float:
    """Volume between a wall (n, k, 3) and the plane through its first row's mean height, lids flat."""
    n, k = grid.shape[:2]
    index = np.arange(n * k).reshape(n, k)
    after = np.roll(index, -1, axis=0)
    one = np.stack([index[:, :-1], after[:, :-1], after[:, 1:]], axis=-1).reshape(-1, 3)
    two = np.stack([index[:, :-1], after[:, 1:], index[:, 1:]], axis=-1).reshape(-1, 3)
    low, high = n * k, n * k + 1
    lids = [np.stack([index[:, 0], np.full(n, low), after[:, 0]], axis=-1)]
    lids.append(np.stack([index[:, -1], after[:, -1], np.full(n, high)], axis=-1))
    points = np.vstack([grid.reshape(-1, 3), grid[:, 0].mean(axis=0), grid[:, -1].mean(axis=0)])
    return abs(trimesh.Trimesh(points, np.vstack([one, two, *lids]), process=False).volume)
