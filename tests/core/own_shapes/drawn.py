"""Outlines for tests: circles on analytic skins, and shapes in the front view of the invented wearer."""

from __future__ import annotations

from functools import cache

import numpy as np
import trimesh
from face.shapes import cylinder, plane, sphere
from main_job.wearers import marlo_prepared
from sealwright.face.surface import FaceSurface
from sealwright.own_shapes.outline import Outline
from sealwright.own_shapes.settings import ShellSettings
from sealwright.own_shapes.shell import ConformalShell, conformal_shell

RADIUS_MM = 75.0
SKINS = {"plane": plane(-RADIUS_MM), "sphere": sphere(RADIUS_MM), "cylinder": cylinder(RADIUS_MM)}
SETTINGS = ShellSettings(smoothing_mm=0.0)
NOSE = (
    (0, 45), (9, 38), (16, 20), (24, 6), (22, -8), (10, -9), (0, -10), (-10, -9), (-22, -8), (-24, 6),
    (-16, 20), (-9, 38),
)  # fmt: skip


def circle(skin: str, radius_mm: float, middle=(0.0, 0.0), count: int = 60) -> np.ndarray:
    """Points (count, 3) at a distance along the skin from a place; on the cylinder the unrolled circle."""
    turn = 2.0 * np.pi * np.arange(count) / count
    x, z = middle[0] + radius_mm * np.cos(turn), middle[1] + radius_mm * np.sin(turn)
    if skin == "plane":
        return np.stack([x, np.full(count, -RADIUS_MM), z], axis=1)
    if skin == "cylinder":
        return np.stack([RADIUS_MM * np.sin(x / RADIUS_MM), -RADIUS_MM * np.cos(x / RADIUS_MM), z], axis=1)
    away = np.hypot(x, z)
    side = RADIUS_MM * np.sin(away / RADIUS_MM) / away
    return np.stack([x * side, -RADIUS_MM * np.cos(away / RADIUS_MM), z * side], axis=1)


@cache
def disc(skin: str, hole: bool = False) -> ConformalShell:
    """A round shell of 30 mm on an analytic skin, with a round hole of 8 mm."""
    holes = (
        [Outline("hole 1", circle(skin, 8.0, (3.0, 2.0) if skin == "plane" else (0.0, 0.0)))] if hole else []
    )
    return conformal_shell(SKINS[skin], Outline("outline", circle(skin, 30.0)), holes, SETTINGS)


@cache
def _skin() -> trimesh.Trimesh:
    mesh = marlo_prepared().skin
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)


def front_view(places, mesh: trimesh.Trimesh | None = None) -> np.ndarray:
    """Skin points (k, 3) of places (x, z) in the front view, mm; NaN where there is no skin."""
    starts = np.array([[x, -200.0, z] for x, z in places])
    ways = np.tile([0.0, 1.0, 0.0], (len(starts), 1))
    hits, ray, _ = (mesh or _skin()).ray.intersects_location(starts, ways, multiple_hits=True)
    found = np.full((len(starts), 3), np.nan)
    for hit, number in zip(hits, ray, strict=True):
        if not found[number, 1] <= hit[1]:
            found[number] = hit
    return found


@cache
def nose_shell() -> tuple[FaceSurface, ConformalShell]:
    """A guard over the nose of the invented wearer."""
    from sealwright.own_shapes.ground import Look, skin_under

    points, wearer = front_view(NOSE), marlo_prepared()
    face = skin_under(wearer.skin, points, Look(wearer.size))
    return face, conformal_shell(face, Outline("outline", points), [], ShellSettings())
