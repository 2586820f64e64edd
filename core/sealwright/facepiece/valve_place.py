"""Where a valve cartridge can stand on the chamber wall: a search for a spot with room for all of it.

Looked at are places on the wall under the chin or at a side, each with a few axes about the wall's normal.
A place is free when the boss closes on the wall all round, and boss, cartridge, cover and their way in along
the axis keep clear of the wall, of lugs, of what hangs on the first port, and of the skin outside and inside.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from ..face.surface import FaceSurface
from ..hardware.cartridge import ROOT_MM, CartridgeLayout
from ..mesh import Bools, Floats
from .cylinder_room import Cylinder

PLACES = ("chin", "left", "right")
LUG = "strap lug"
_CHIN_DEG = (-90.0,)  # in the port frame, from +X: where the wall is looked at
_SIDE_DEG = tuple(float(azimuth) for azimuth in range(-75, 81, 10))
_CHIN_WAYS = tuple(float(way) for way in np.linspace(0.1, 0.9, 41))  # down the wall, from band to port
_SIDE_WAYS = _CHIN_WAYS[::4]
_TURNS_DEG = (0.0, -12.0, 12.0)
_LEANS_DEG = (0.0, -8.0, 8.0, -16.0, 16.0)
_SPARE_MM = (
    0.5  # round cover and boss; places on the wall lie 2 mm apart, so that what lies between is missed
)
_SKIN_SPARE_MM = 0.3  # places on the cartridge lie some millimetres apart
_OVER_WALL_MM = 0.05  # the face of the boss over the highest place of the wall under it
_UNDER_COVER_MM = 0.15  # the cover begins 0.4 mm over that face: the wall may rise so far under it
_BETWEEN_MM = 0.7  # points of a cartridge lie 2.5 mm apart, so that what lies between them is missed
_TALLEST_MM = 14.0  # flank of a boss, from its face down to the wall
_END = "end of the wall"
_HOPELESS = (_END, LUG)
_SECTORS = 12
_TURN = 2.0 * np.pi * np.arange(20) / 20.0
_RINGS = np.concatenate([share * np.column_stack([np.cos(_TURN), np.sin(_TURN)]) for share in (1.0, 0.5)])
_NEAR_MM = 28.0  # of the shell, what lies further takes no part
_BORED_MM = 3.5  # over its face, what bulges into the boss is bored away
_THROUGH_MM = 1.0  # how far the bore's cutter reaches behind the boss
_PAST_PORT_MM = 4.0  # counts as so much taller a boss: the holder must come off to change the valve


@dataclass(frozen=True)
class Surroundings:
    """What a cartridge has to keep clear of.

    Attributes
    ----------
    outer, normals : (n, k, 3) outer side of band and wall, and its unit normals.
    edge : (n, c, 3) the band's free edge.
    wall : (k,) rows of the chamber wall proper.
    port : 4x4 frame of the first port; the body prints along its axis.
    cylinders : ports and what hangs on them.
    tubes : further ports, which stand on the wall as the cartridge does.
    things : name -> points (n, 3) of what stands on the wall.
    face : the skin.
    nose_and_lips : (n, 3), and the clearance asked to them.
    clearance_mm : that clearance.
    off_skin_mm : between the skin and what stands outside.
    """

    outer: Floats
    normals: Floats
    edge: Floats
    wall: Bools
    port: Floats
    cylinders: tuple[Cylinder, ...]
    tubes: tuple[Cylinder, ...]
    things: Mapping[str, Floats]
    face: FaceSurface
    nose_and_lips: Floats
    clearance_mm: float
    off_skin_mm: float


@dataclass(frozen=True, eq=False)
class Spot:
    """A place for a cartridge.

    Attributes
    ----------
    frame : 4x4, cartridge frame to face frame: origin in the face of the boss, +Z along the axis out.
    flank_mm : from the face of the boss down to the lowest place of the wall under it.
    past_port : whether the way in passes what hangs on the first port, which then must come off first.
    """

    frame: Floats
    flank_mm: float
    past_port: bool


@dataclass(frozen=True, eq=False)
class NoSpot:
    """Why there is no place: what stands in the way where least does, and that place (3,)."""

    blocked_by: str
    point: Floats


def find_spot(layout: CartridgeLayout, place: str, around: Surroundings) -> Spot | NoSpot:
    """The free place with the least boss, or what is in the way.

    Parameters
    ----------
    layout : the cartridge.
    place : "chin", "left" (of the wearer) or "right".
    around : what it must keep clear of.
    """
    best: tuple[float, Spot] | None = None
    failed: list[tuple[tuple[str, ...], Floats]] = []
    points = _points(around)
    for origin, axes in _tried(layout, place, around):
        here = replace(around, things=_close(around.things, origin))
        near = points[np.linalg.norm(points - origin, axis=1) < _NEAR_MM]
        for axis in axes:
            frame = on_axis(origin, axis, around.port[:3, 0])
            found = _looked_at(layout, frame, here, near, best[0] if best is not None else np.inf)
            if found is None:
                continue
            if not isinstance(found, Spot):
                failed.append((found, origin))
                if found[0] in _HOPELESS and place != "chin":
                    break  # other axes from there meet it too
                continue
            cost = round(found.flank_mm + (_PAST_PORT_MM if found.past_port else 0.0), 3)
            if best is None or cost < best[0]:
                best = (cost, found)
    if best is not None:
        return best[1]
    least = min((len(names) for names, _ in failed), default=0)
    nearest = [(names, point) for names, point in failed if len(names) == least]
    usual = (
        Counter(name for names, _ in nearest for name in names).most_common(1)[0][0] if nearest else "wall"
    )
    point = next((point for names, point in nearest if usual in names), around.port[:3, 3])
    return NoSpot(usual, point)


def _close(things: Mapping[str, Floats], origin: Floats) -> dict[str, Floats]:
    """What of the things lies near a place."""
    return {name: thing[np.linalg.norm(thing - origin, axis=1) < _NEAR_MM] for name, thing in things.items()}


def _points(around: Surroundings) -> Floats:
    """Points (n, 3) of the outer side and of the free edge, and those amid them along the rows."""
    outer = np.concatenate([around.edge[:, ::-1], around.outer], axis=1)
    between = 0.5 * (outer[:, 1:] + outer[:, :-1])
    return np.concatenate([outer.reshape(-1, 3), between.reshape(-1, 3)])


def _tried(
    layout: CartridgeLayout, place: str, around: Surroundings
) -> Iterator[tuple[Floats, list[Floats]]]:
    """Points (3,) of the wall's outer side and unit axes there; mirrored places in mirrored order."""
    port, rows = around.port, np.flatnonzero(around.wall)
    side = np.array([-1.0 if place == "right" else 1.0, 1.0, 1.0])
    local = (around.outer[:, rows] - port[:3, 3]) @ port[:3, :3] * side
    normals = around.normals[:, rows].reshape(-1, 3) @ port[:3, :3] * side
    chin = place == "chin"
    azimuths, ways, turns = (_CHIN_DEG, _CHIN_WAYS, (0.0,)) if chin else (_SIDE_DEG, _SIDE_WAYS, _TURNS_DEG)
    for azimuth, way in product(azimuths, ways):
        at = _on_profile(local, np.radians(azimuth), way)
        if at is None:
            continue
        near = np.linalg.norm(local.reshape(-1, 3) - at, axis=1) < layout.tube
        if not near.any():
            continue
        normal = normals[near].mean(axis=0) * (not chin, 1.0, 1.0)
        axes = [_axis(normal, turn, lean) for turn, lean in product(turns, _LEANS_DEG)]
        turned = [port[:3, :3] @ (side * axis) for axis in axes]
        yield port[:3, :3] @ (side * at) + port[:3, 3], turned


def _on_profile(local: Floats, azimuth: float, way: float) -> Floats | None:
    """The point of the wall (n, k, 3), in the port frame, at an azimuth and a share of its length down."""
    angle = np.arctan2(local[..., 1], local[..., 0])
    off = np.abs((angle - azimuth + np.pi) % (2.0 * np.pi) - np.pi)
    best = off.argmin(axis=0)
    if (off[best, np.arange(off.shape[1])] > 0.3).any():
        return None
    profile = []
    for row in range(local.shape[1]):
        there = local[(best[row] + np.array([-1, 0, 1])) % len(local), row]
        turned = (np.arctan2(there[:, 1], there[:, 0]) - azimuth + np.pi) % (2.0 * np.pi) - np.pi
        order = np.argsort(turned)
        radius = np.interp(0.0, turned[order], np.hypot(there[:, 0], there[:, 1])[order])
        height = np.interp(0.0, turned[order], there[order, 2])
        profile.append((radius * np.cos(azimuth), radius * np.sin(azimuth), height))
    line = np.array(profile)
    walked = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    return np.array([np.interp(way * walked[-1], walked, line[:, k]) for k in range(3)])


def _axis(normal: Floats, turn_deg: float, lean_deg: float) -> Floats:
    """A unit axis about a normal, in the port frame."""
    azimuth = np.arctan2(normal[1], normal[0]) + np.radians(turn_deg)
    up = np.arctan2(normal[2], np.hypot(normal[0], normal[1])) + np.radians(lean_deg)
    return np.array([np.cos(up) * np.cos(azimuth), np.cos(up) * np.sin(azimuth), np.sin(up)])


def on_axis(origin: Floats, axis: Floats, side: Floats) -> Floats:
    """A 4x4 frame with its origin (3,), +Z along a unit axis (3,), and +X as far along ``side`` as it can."""
    frame = np.eye(4)
    x = side - (side @ axis) * axis
    if np.linalg.norm(x) < 1e-3:
        x = np.array([0.0, 0.0, 1.0]) - axis[2] * axis
    x = x / np.linalg.norm(x)
    frame[:3, :3] = np.stack([x, np.cross(axis, x), axis], axis=1)
    frame[:3, 3] = origin
    return frame


def _looked_at(
    layout: CartridgeLayout, frame: Floats, around: Surroundings, points: Floats, most_mm: float
) -> Spot | tuple[str, ...] | None:
    """The spot on an axis, or the names of what is in the way; None where another's flank is lower."""
    across, along = _about(points, frame)
    reach = layout.cover_outer + _SPARE_MM
    patch = np.abs(along) < _TALLEST_MM + 4.0
    under = patch & (across > layout.socket - 0.5) & (across < reach)
    foot = patch & (across > layout.socket - 1.0) & (across < layout.tube + 1.5)
    if not under.any() or not _all_round(points[foot], frame):
        return (_END,)
    own = under & (across < layout.tube + 0.3)
    face = max(float(along[own].max()) + _OVER_WALL_MM, float(along[under].max()) - _UNDER_COVER_MM)
    lowest = float(along[foot].min())
    if face - lowest >= most_mm:
        return None
    root = min(face - layout.bore_depth, lowest - ROOT_MM)
    blocked = []
    if face - lowest > _TALLEST_MM:
        blocked.append("curve of the wall")
    stands = frame.copy()
    stands[:3, 3] = frame[:3, 3] + face * frame[:3, 2]
    travel = layout.depth + 1.0
    top = face + layout.height
    bored = (across < layout.socket) & (along < face + _BORED_MM)
    if ((across < reach) & (along > face + _UNDER_COVER_MM + 0.01) & (along < top + travel) & ~bored).any():
        blocked.append("wall")
    if ((across < layout.tube) & (along < lowest - 6.0) & (along > root - _THROUGH_MM - 1.0)).any():
        blocked.append("band")
    for name, thing in around.things.items():
        off, height = _about(thing, frame)
        cover = (off < reach) & (height > face) & (height < top + travel)
        boss = (off < layout.tube + _SPARE_MM) & (height > root) & (height <= face)
        if (cover | boss).any():
            blocked.append(name)
    tube = _shell_of(stands, layout.tube, lowest - face - ROOT_MM, 0.0)
    above = _shell_of(stands, reach, 0.0, layout.height)
    if not blocked and (_meets(above, around.cylinders) or _meets(tube, around.cylinders)):
        blocked.append("part on the port")
    if not blocked and _meets(tube, around.tubes):
        blocked.append("further port")
    if not blocked:
        blocked += _skins(layout, stands, around)
    if blocked:
        return tuple(blocked)
    past = _meets(_shell_of(stands, reach, layout.height, layout.height + travel), around.cylinders)
    return Spot(frame=stands, flank_mm=face - lowest, past_port=past)


def _skins(layout: CartridgeLayout, stands: Floats, around: Surroundings) -> list[str]:
    """What skin is too near: outside to cartridge and way in, inside to the end of the boss."""
    face, root, blocked = around.face, -layout.bore_depth, list[str]()
    outside = _shell_of(stands, layout.cover_outer, 0.0, layout.height + layout.depth)
    wanted = around.off_skin_mm + _SKIN_SPARE_MM
    if _nearest(face, outside) < wanted:
        blocked.append("skin outside")
    ends = ((layout.tube, root), (layout.spigot, -layout.depth))
    inside = np.concatenate([_shell_of(stands, radius, end, end) for radius, end in ends])
    if _nearest(face, inside) < wanted:
        blocked.append("skin in the chamber")
    if len(around.nose_and_lips):
        off, height = _about(around.nose_and_lips, stands)
        away = np.hypot(np.maximum(off - layout.tube, 0.0), np.maximum(root - height, 0.0))
        if float(away.min()) < around.clearance_mm:
            blocked.append("nose or lips")
    return blocked


def _nearest(face: FaceSurface, points: Floats) -> float:
    known = face.is_known(face.chart.place_of(points)[0])
    return float(np.where(known, face.height_of(points), np.inf).min())


def _about(points: Floats, frame: Floats) -> tuple[Floats, Floats]:
    """Distance from an axis and height along it (n,) of points (n, 3)."""
    local = (points - frame[:3, 3]) @ frame[:3, :3]
    return np.hypot(local[:, 0], local[:, 1]), local[:, 2]


def _all_round(points: Floats, frame: Floats) -> bool:
    """Whether points lie in every sector round the axis."""
    local = (points - frame[:3, 3]) @ frame[:3, :3]
    sector = ((np.arctan2(local[:, 1], local[:, 0]) / (2.0 * np.pi) % 1.0) * _SECTORS).astype(int)
    return len(np.unique(sector)) >= _SECTORS


def _shell_of(frame: Floats, radius: float, low: float, high: float) -> Floats:
    """Points (n, 3) on and in a cylinder in a frame."""
    levels = np.linspace(low, high, 1 + int(np.ceil((high - low) / 2.5)))
    points = np.concatenate(
        [np.tile(radius * _RINGS, (len(levels), 1)), np.repeat(levels, len(_RINGS))[:, None]], axis=1
    )
    return np.asarray(points @ frame[:3, :3].T + frame[:3, 3])


def _meets(points: Floats, cylinders: tuple[Cylinder, ...]) -> bool:
    """Whether one of the points (n, 3) lies in a cylinder."""
    return any(cylinder.holds(points, _BETWEEN_MM) for cylinder in cylinders)
