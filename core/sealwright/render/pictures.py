"""Pictures of parts and faces without any window: ray casting, soft light, sections, legends."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..mesh import Bools
from .annotations import annotated
from .camera import Camera, framed
from .light import light_reaching
from .scene import Scene
from .shading import shaded, to_linear, to_srgb
from .soup import soup_of
from .tracing import Hits, Singles, Tracer

Picture = NDArray[np.uint8]
Places = NDArray[np.intp]

_LAYERS = 4  # see-through surfaces looked through, one behind the other
# Places inside an edge pixel: four as in a turned square, and eight as far apart as queens on a board.
_FOUR = np.array([[1, 5], [3, 1], [5, 7], [7, 3]]) / 8.0
_EIGHT = np.array([[0, 4], [1, 6], [2, 1], [3, 5], [4, 2], [5, 0], [6, 3], [7, 7]]) / 8.0 + 1.0 / 16.0
_EDGE, _HARD_EDGE = (
    11,
    44,
)  # differences to a neighbour, of 255, from which four or eight places are looked at
_LEVELS = 1 << 14  # of linear light, finer than the steps of the screen everywhere
_SCREEN = (to_srgb(np.arange(_LEVELS) / (_LEVELS - 1)) * 255.0 + 0.5).astype(np.uint8)


@dataclass(frozen=True, eq=False)
class _View:
    """A scene seen by a camera: what traces it, from where, and how large the picture is, in pixels."""

    tracer: Tracer
    camera: Camera
    size: tuple[int, int]

    @property
    def pixel_mm(self) -> float:
        """Height of a pixel at the middle of the scene."""
        return self.camera.height_mm / self.size[1]

    def rays(self, columns: NDArray[np.floating], rows: NDArray[np.floating]) -> tuple[Singles, Singles]:
        """Origins and directions (k, 3) through picture points."""
        origin, direction = self.camera.rays(columns.astype(np.float32), rows.astype(np.float32), self.size)
        return np.ascontiguousarray(origin), np.ascontiguousarray(direction)

    def window(self) -> tuple[slice, slice]:
        """Rows and columns that hold the scene, with a pixel to spare where there is one."""
        ends = np.array([self.tracer.low_mm, self.tracer.high_mm], dtype=np.float64)
        corners = np.stack(np.meshgrid(*ends.T), axis=-1).reshape(-1, 3)
        seen = self.camera.project(corners, self.size)
        if seen[:, 2].min() <= 0.0:  # beside the eye or behind it
            return slice(0, self.size[1]), slice(0, self.size[0])
        low, high = np.floor(seen[:, :2].min(axis=0)) - 1, np.ceil(seen[:, :2].max(axis=0)) + 1
        low, high = (np.clip(end, 0, self.size).astype(int) for end in (low, high))
        return slice(low[1], max(high[1], low[1] + 1)), slice(low[0], max(high[0], low[0] + 1))


def render(
    scene: Scene, camera: Camera, size: tuple[int, int] = (800, 600), tracer: Tracer | None = None
) -> Picture:
    """A picture of a scene.

    Parameters
    ----------
    scene : what is shown.
    camera : from where; see `camera.framed`.
    size : width and height in pixels.
    tracer : of the same scene, see `tracer_of`, where more than one picture is taken of it.

    Returns
    -------
    (height, width, 3) uint8 sRGB; the same bytes for the same scene.

    Raises
    ------
    BackendUnavailable : the ray caster or the picture library is missing.
    """
    view = _View(tracer or tracer_of(scene), camera, size)
    picture = np.repeat(
        _on_screen(_background(scene, np.arange(size[1]) / size[1])).T[:, None], size[0], axis=1
    )
    window = view.window()
    picture[window] = _seen(view, *window)
    return annotated(picture, scene, camera)


def tracer_of(scene: Scene) -> Tracer:
    """What casts rays in a scene.

    Raises
    ------
    BackendUnavailable : the ray caster is missing.
    """
    return Tracer(soup_of(scene), scene)


def _seen(view: _View, rows: slice, columns: slice) -> Picture:
    """The picture of a window."""
    height, width = rows.stop - rows.start, columns.stop - columns.start
    row, column = (a.ravel() for a in np.mgrid[rows, columns])
    origin, direction = view.rays(column + 0.5, row + 0.5)
    hits = view.tracer.first_hits(origin, direction)
    seen = light_reaching(view.tracer, hits, view.camera.axes, width, view.pixel_mm)
    light = _through(view, hits, direction, seen, _background(view.tracer.scene, row / view.size[1]))
    shown = _on_screen(light)
    contrast = _contrast(shown.reshape(3, height, width), hits).ravel()
    for places, edge in (
        (_FOUR, np.flatnonzero((contrast >= _EDGE) & (contrast < _HARD_EDGE))),
        (_EIGHT, np.flatnonzero(contrast >= _HARD_EDGE)),
    ):
        light[:, edge] = _refined(view, (hits, seen, width), (edge, row[edge], column[edge]), places)
    return np.ascontiguousarray(_on_screen(light).T).reshape(height, width, 3)


def _on_screen(light: Singles) -> Picture:
    """Bytes of the screen from linear light."""
    return np.asarray(_SCREEN[(np.clip(light, 0.0, 1.0) * (_LEVELS - 1) + 0.5).astype(np.int32)])


def view_of(
    scene: Scene,
    direction: str | tuple[float, float, float],
    size: tuple[int, int] = (800, 600),
    orthographic: bool = False,
) -> Camera:
    """A camera that shows all of a scene, with room for its legend; see `camera.framed`."""
    right = 0.13 if scene.legend is not None else 0.0
    return framed(direction, scene.points, size, orthographic, right=right)


def png_bytes(picture: Picture) -> bytes:
    """A picture (h, w, 3) as PNG (ISO/IEC 15948), without a library; the same bytes for the same picture."""
    height, width = picture.shape[:2]
    rows = np.ascontiguousarray(picture, dtype=np.uint8).reshape(height, -1)
    above = np.vstack([np.zeros_like(rows[:1]), rows[:-1]])
    # filter 2, the difference to the row above, for every row
    filtered = np.hstack([np.full((height, 1), 2, dtype=np.uint8), rows - above])
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(filtered.tobytes(), 6)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in chunks
    )


def _background(scene: Scene, share: NDArray[np.floating]) -> Singles:
    """Linear light (3, k) of the background at heights from 0 (top) to 1."""
    top, bottom = (to_linear(np.array(c)).astype(np.float32)[:, None] for c in scene.background)
    return np.asarray(top + share.astype(np.float32) * (bottom - top))


def _through(view: _View, hits: Hits, direction: Singles, seen: Singles, behind: Singles) -> Singles:
    """Linear light (3, k) of rays, looking through see-through surfaces; ``behind`` is used up."""
    tracer, scene = view.tracer, view.tracer.scene
    opacity = np.array([s.opacity for s in scene.shown], dtype=np.float32)
    light, clear = np.zeros_like(behind), np.ones(behind.shape[1], np.float32)
    rows = np.arange(behind.shape[1])
    for _ in range(_LAYERS):
        hit = np.flatnonzero(hits.item >= 0)
        rows, direction, hits, seen = rows[hit], direction[hit], hits.only(hit), seen.T[:, hit].T
        cover = np.where(hits.kind == 2, np.float32(1.0), opacity[hits.item])
        colour = shaded(scene, hits, direction, seen, view.camera.axes, view.pixel_mm)
        light[:, rows] += clear[rows] * cover * colour
        clear[rows] *= 1.0 - cover
        on = np.flatnonzero(cover < 1.0)
        if not len(on):
            break
        step = np.float32(2e-4 * tracer.size_mm)
        rows, direction = rows[on], direction[on]
        hits = tracer.first_hits(hits.point[on] + step * direction, direction)
        # Light under the outer surface is not traced again: the sky light of the surface in front will do.
        seen = np.stack([0.5 + 0.5 * seen[on, 0], seen[on, 0]]).T
    behind *= clear
    light += behind
    return light


def _contrast(shown: Picture, hits: Hits) -> NDArray[np.uint8]:
    """By how much each pixel (h, w) of (3, h, w) differs from a neighbour; `_EDGE` where meshes meet.

    Only pixels on the subject or beside it count, and hatching has smooth edges of its own.
    """
    mark = np.where(hits.item >= 0, hits.item * 4 + hits.kind, -1).reshape(shown.shape[1:])
    most = np.zeros(shown.shape[1:], dtype=np.uint8)
    for here, there in (
        ((..., slice(1, None), slice(None)), (..., slice(-1), slice(None))),
        ((..., slice(None), slice(1, None)), (..., slice(None), slice(-1))),
    ):
        a, b = shown[here], shown[there]
        apart = (np.maximum(a, b) - np.minimum(a, b)).max(axis=0)
        same, hatched = mark[here] == mark[there], mark[here] % 4 == 2
        apart = np.where(same, np.where(hatched, 0, apart), np.maximum(apart, _EDGE))
        most[here] = np.maximum(most[here], apart)
        most[there] = np.maximum(most[there], apart)
    most[~_beside(mark >= 0)] = 0
    return most


def _beside(inside: Bools) -> Bools:
    """Pixels beside or on the subject."""
    grown = inside.copy()
    grown[1:] |= inside[:-1]
    grown[:-1] |= inside[1:]
    grown[:, 1:] |= inside[:, :-1]
    grown[:, :-1] |= inside[:, 1:]
    return grown


def _refined(
    view: _View,
    whole: tuple[Hits, Singles, int],
    edge: tuple[Places, Places, Places],
    places: NDArray[np.float64],
) -> Singles:
    """Mean light (3, k) of rays through places in each edge pixel; light shares come from the neighbours.

    ``whole`` are hits, light shares and width of the window; ``edge`` number in it, row and column of pixels.
    """
    number, row, column = edge
    columns, rows = (column[:, None] + places[:, 0]).ravel(), (row[:, None] + places[:, 1]).ravel()
    origin, direction = view.rays(columns, rows)
    fine = view.tracer.first_hits(origin, direction)
    share = _shared_light(whole, fine, number, places, view.pixel_mm)
    light = _through(view, fine, direction, share, _background(view.tracer.scene, rows / view.size[1]))
    return np.asarray(np.clip(light, 0.0, 1.0).reshape(3, len(number), len(places)).mean(axis=2))


def _shared_light(
    whole: tuple[Hits, Singles, int], fine: Hits, number: Places, places: NDArray[np.float64], pixel_mm: float
) -> Singles:
    """Light shares (k, 2) of rays inside edge pixels: the mean of four pixels around of the same surface.

    Where none is near enough in place and direction, the nearest in depth on the same mesh; else full light.
    """
    (hits, seen, width), far = whole, np.float32(1e9)
    mark, fine_mark = hits.item * 4 + hits.kind, fine.item * 4 + fine.kind
    (nx, ny, nz), (sky, key) = hits.normal.T, seen.T
    fx, fy, fz = fine.normal.T
    best = np.full(len(fine_mark), far)
    nearest, total = np.ones((2, len(fine_mark)), np.float32), np.zeros((2, len(fine_mark)), np.float32)
    weight = np.zeros(len(fine_mark), np.float32)
    right, below = np.where(places[:, 0] < 0.5, -1, 1), np.where(places[:, 1] < 0.5, -1, 1)
    x, y, last = number % width, number // width, len(mark) // width - 1
    for dx, dy in ((0, 0), (1, 0), (0, 1), (1, 1)):
        beside = np.clip(x[:, None] + dx * right, 0, width - 1), np.clip(y[:, None] + dy * below, 0, last)
        near = (beside[1] * width + beside[0]).ravel()
        cost = np.where(mark[near] == fine_mark, np.abs(hits.distance[near] - fine.distance), far)
        better, shares = cost < best, (sky[near], key[near])
        alike = nx[near] * fx + ny[near] * fy + nz[near] * fz > 0.8
        use = ((cost < 6.0 * pixel_mm) & alike).astype(np.float32)
        best, weight = np.minimum(best, cost), weight + use
        for k in range(2):
            nearest[k] = np.where(better, shares[k], nearest[k])
            total[k] += use * shares[k]
    return np.where(weight > 0, total / np.maximum(weight, 1.0), nearest).T
