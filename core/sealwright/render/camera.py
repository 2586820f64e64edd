"""Cameras for pictures: named views in the face frame, framed so that the subject fills the picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh import Floats

# Directions from the subject to the eye; the face looks along -Y, +X is the wearer's left, +Z is up.
VIEWS: dict[str, tuple[float, float, float]] = {
    "front": (0.0, -1.0, 0.0),
    "three-quarter": (0.62, -0.74, 0.26),
    "side": (1.0, 0.0, 0.0),
    "below": (0.0, -0.5, -0.87),
    "inside": (0.0, 1.0, 0.0),
    "inside three-quarter": (-0.45, 0.85, 0.3),
    "above": (0.0, -0.25, 0.97),
}


@dataclass(frozen=True)
class Camera:
    """Where a picture is taken from.

    Attributes
    ----------
    eye, target, up : (3,) points and direction, mm.
    height_mm : height of the picture at the target.
    orthographic : parallel rays (true lengths) instead of rays from the eye.
    """

    eye: tuple[float, float, float]
    target: tuple[float, float, float]
    up: tuple[float, float, float]
    height_mm: float
    orthographic: bool = False

    @property
    def axes(self) -> Floats:
        """Rows: right, up and backwards (towards the eye) as unit vectors (3, 3)."""
        back = np.array(self.eye, dtype=np.float64) - np.array(self.target)
        return _axes(back, np.array(self.up, dtype=np.float64))

    @property
    def distance_mm(self) -> float:
        """Distance from eye to target."""
        return float(np.linalg.norm(np.array(self.eye) - np.array(self.target)))

    def rays(self, columns: Floats, rows: Floats, size: tuple[int, int]) -> tuple[Floats, Floats]:
        """Origins and unit directions (k, 3) through picture points.

        Parameters
        ----------
        columns, rows : (k,) positions in pixels from the upper left corner; pixel middles at halves.
        size : width and height in pixels.
        """
        width, height = size
        right, up, back = (axis.astype(columns.dtype) for axis in self.axes)
        far = columns.dtype.type(self.distance_mm)
        mm = columns.dtype.type(self.height_mm / height)
        x, y = (columns - 0.5 * width) * mm, (0.5 * height - rows) * mm
        across = np.stack([x * r + y * u for r, u in zip(right, up, strict=True)], axis=1)
        if self.orthographic:
            return across + np.array(self.eye).astype(columns.dtype), np.broadcast_to(-back, across.shape)
        # Right, up and back are square to each other, so that the length needs no sum over them.
        direction = (across - far * back) / np.sqrt(x * x + y * y + far * far)[:, None]
        return np.broadcast_to(np.array(self.eye).astype(columns.dtype), direction.shape), direction

    def project(self, points: Floats, size: tuple[int, int]) -> Floats:
        """Points (k, 3) as column, row and distance along the view (k, 3), in pixels and mm."""
        width, height = size
        local = (np.asarray(points, dtype=np.float64) - np.array(self.target)) @ self.axes.T
        depth = self.distance_mm - local[:, 2]
        scale = np.ones(len(local)) if self.orthographic else self.distance_mm / depth
        pixels = height / self.height_mm
        column = 0.5 * width + local[:, 0] * scale * pixels
        row = 0.5 * height - local[:, 1] * scale * pixels
        return np.stack([column, row, depth], axis=1)


LENS_DEG = 24.0
"""Vertical opening of a perspective view: long enough a lens that noses do not grow."""


def framed(
    direction: str | tuple[float, float, float],
    points: Floats,
    size: tuple[int, int] = (800, 600),
    orthographic: bool = False,
    margin: float = 0.08,
    right: float = 0.0,
) -> Camera:
    """A camera that shows all points as large as the picture allows.

    Parameters
    ----------
    direction : name of a view in `VIEWS`, or a direction from the subject to the eye.
    points : (k, 3) what must be in the picture, mm.
    size : width and height in pixels.
    orthographic : parallel rays; lengths across the view are then to scale.
    margin : free share of the picture on every side.
    right : further share kept free at the right, for a legend.
    """
    back = np.array(VIEWS[direction] if isinstance(direction, str) else direction, dtype=np.float64)
    back /= np.linalg.norm(back)
    up = np.array([0.0, 1.0, 0.0]) if abs(back[2]) > 0.99 else np.array([0.0, 0.0, 1.0])
    axes = _axes(back, up)
    local = np.asarray(points, dtype=np.float64) @ axes.T
    aspect, room = (1.0 - right) * size[0] / size[1], 1.0 - 2.0 * margin
    middle = 0.5 * (local.min(axis=0) + local.max(axis=0))
    half = 0.5 * np.ptp(local, axis=0)
    if orthographic:
        height = 2.0 * max(half[1], half[0] / aspect) / room
        distance = 2.0 * float(np.linalg.norm(half)) + 100.0
        middle[0] += 0.5 * right * height * size[0] / size[1]
        return _camera(axes, middle, distance, height, True)
    slope = np.tan(np.radians(LENS_DEG) / 2.0) * room
    distance = 0.0
    for _ in range(4):  # centring and distance depend on each other; four rounds settle both below 0.1 %
        rest = local - middle
        distance = float(
            np.max(rest[:, 2] + np.maximum(np.abs(rest[:, 1]), np.abs(rest[:, 0]) / aspect) / slope)
        )
        seen = rest[:, :2] / (distance - rest[:, 2:])
        middle[:2] += 0.5 * (seen.min(axis=0) + seen.max(axis=0)) * distance
    height = 2.0 * distance * float(np.tan(np.radians(LENS_DEG) / 2.0))
    middle[0] += 0.5 * right * height * size[0] / size[1]
    return _camera(axes, middle, distance, height, False)


def _axes(back: Floats, up: Floats) -> Floats:
    back = back / np.linalg.norm(back)
    right = np.cross(up, back)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(back, right), back])


def _camera(axes: Floats, middle: Floats, distance: float, height_mm: float, orthographic: bool) -> Camera:
    target = middle @ axes
    eye = target + distance * axes[2]

    def plain(p: Floats) -> tuple[float, float, float]:
        """A point as plain numbers."""
        return (float(p[0]), float(p[1]), float(p[2]))

    return Camera(plain(eye), plain(target), plain(axes[1]), float(height_mm), orthographic)
