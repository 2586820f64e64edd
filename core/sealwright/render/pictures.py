"""Pictures of parts and faces without any window: ray casting, soft light, sections, legends."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..mesh import Bools, Floats
from .annotations import annotated
from .camera import Camera, framed
from .scene import Scene
from .shading import light_reaching, shaded, smoothed, to_linear, to_srgb
from .soup import soup_of
from .tracing import Hits, Singles, Tracer

Picture = NDArray[np.uint8]

_LAYERS = 4  # see-through surfaces looked through, one behind the other
# Eight places inside an edge pixel, as far from each other as eight queens on a board.
_PLACES = np.array([[0, 4], [1, 6], [2, 1], [3, 5], [4, 2], [5, 0], [6, 3], [7, 7]]) / 8.0 + 1.0 / 16.0


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


def render(scene: Scene, camera: Camera, size: tuple[int, int] = (800, 600)) -> Picture:
    """A picture of a scene.

    Parameters
    ----------
    scene : what is shown.
    camera : from where; see `camera.framed`.
    size : width and height in pixels.

    Returns
    -------
    (height, width, 3) uint8 sRGB; the same bytes for the same scene.

    Raises
    ------
    BackendUnavailable : the ray caster or the picture library is missing.
    """
    width, height = size
    view = _View(Tracer(soup_of(scene), scene), camera, size)
    rows, columns = (a.ravel() + 0.5 for a in np.mgrid[0:height, 0:width])
    origin, direction = camera.rays(columns, rows, size)
    hits = view.tracer.first_hits(origin, direction)
    seen = light_reaching(view.tracer, hits, camera.axes, width)
    seen = smoothed(seen, hits, width, view.pixel_mm)
    behind = _background(scene, rows / height)
    light = _through(view, hits, direction, seen, behind)
    edge = np.flatnonzero(_edges(light, hits, size))
    light[edge] = _refined(view, hits, seen, edge)
    picture = (to_srgb(light) * 255.0 + 0.5).astype(np.uint8).reshape(height, width, 3)
    return annotated(picture, scene, camera)


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


def _background(scene: Scene, share: Floats) -> Floats:
    """Linear light (k, 3) of the background at heights from 0 (top) to 1."""
    top, bottom = (to_linear(np.array(c)) for c in scene.background)
    return np.asarray(top + share[:, None] * (bottom - top))


def _through(view: _View, hits: Hits, direction: Floats, seen: Singles, behind: Floats) -> Floats:
    """Linear light (k, 3) of rays, looking through see-through surfaces."""
    tracer, scene = view.tracer, view.tracer.scene
    opacity = np.array([s.opacity for s in scene.shown])
    light, clear = np.zeros_like(behind), np.ones(len(behind))
    rows = np.arange(len(behind))
    for _ in range(_LAYERS):
        hit = np.flatnonzero(hits.item >= 0)
        rows, direction, hits, seen = rows[hit], direction[hit], hits.only(hit), seen[hit]
        cover = np.where(hits.kind == 2, 1.0, opacity[hits.item])
        colour = shaded(scene, hits, direction, seen, view.camera.axes, view.pixel_mm)
        light[rows] += (clear[rows] * cover)[:, None] * colour
        clear[rows] *= 1.0 - cover
        on = np.flatnonzero(cover < 1.0)
        if not len(on):
            break
        step = np.float32(2e-4 * tracer.size_mm)
        rows, direction = rows[on], direction[on]
        hits = tracer.first_hits(hits.point[on] + step * direction, direction)
        # Light under the outer surface is not traced again: the sky light of the surface in front will do.
        seen = np.stack([0.5 + 0.5 * seen[on, 0], seen[on, 0]], axis=1)
    return light + clear[:, None] * behind


def _edges(light: Floats, hits: Hits, size: tuple[int, int]) -> Bools:
    """Pixels (k,) where colour, surface or direction of the surface changes to a neighbour."""
    width, height = size
    shown = to_srgb(light.astype(np.float32)).reshape(height, width, 3)
    mark = (hits.item * 4 + hits.kind).reshape(height, width)
    normal = hits.normal.reshape(height, width, 3)
    edge = np.zeros((height, width), dtype=np.bool_)
    for here, there in (
        ((slice(1, None),), (slice(-1),)),
        ((slice(None), slice(1, None)), (slice(None), slice(-1))),
    ):
        apart = np.abs(shown[here] - shown[there]) > 0.045
        change = apart[..., 0] | apart[..., 1] | apart[..., 2]
        change |= mark[here] != mark[there]
        change |= np.einsum("ijk,ijk->ij", normal[here], normal[there]) < 0.93
        edge[here] |= change
        edge[there] |= change
    edge &= (hits.item.reshape(height, width) >= 0) | _beside(mark >= 0)
    return edge.ravel()


def _beside(inside: Bools) -> Bools:
    """Pixels beside or on the subject."""
    grown = inside.copy()
    grown[1:] |= inside[:-1]
    grown[:-1] |= inside[1:]
    grown[:, 1:] |= inside[:, :-1]
    grown[:, :-1] |= inside[:, 1:]
    return grown


def _refined(view: _View, hits: Hits, seen: Singles, edge: NDArray[np.int64]) -> Floats:
    """Mean light (k, 3) of eight rays in each edge pixel; light shares come from the neighbours."""
    width, height = view.size
    row, column = edge // width, edge % width
    columns = (column[:, None] + _PLACES[:, 0]).ravel()
    rows = (row[:, None] + _PLACES[:, 1]).ravel()
    origin, direction = view.camera.rays(columns, rows, view.size)
    fine = view.tracer.first_hits(origin, direction)
    share = _shared_light(view, hits, seen, fine, (row, column))
    behind = _background(view.tracer.scene, rows / height)
    light = _through(view, fine, direction, share, behind)
    return np.asarray(np.clip(light, 0.0, 1.0).reshape(len(edge), len(_PLACES), 3).mean(axis=1))


def _shared_light(
    view: _View, hits: Hits, seen: Singles, fine: Hits, pixel: tuple[NDArray[np.int64], NDArray[np.int64]]
) -> Singles:
    """Light shares (k, 2) of the rays inside edge pixels: the mean of the pixels around on the same surface.

    Where none is near enough in place and direction, the nearest in depth on the same mesh; else full light.
    ``pixel`` is row and column of each edge pixel.
    """
    (width, height), (row, column) = view.size, pixel
    mark, fine_mark = hits.item * 4 + hits.kind, fine.item * 4 + fine.kind
    best = np.full(len(fine_mark), 1e9, dtype=np.float32)
    nearest = np.ones((len(fine_mark), 2), dtype=np.float32)
    total, weight = np.zeros_like(nearest), np.zeros((len(fine_mark), 1), dtype=np.float32)
    for dy in (0, -1, 1):
        for dx in (0, -1, 1):
            near = np.clip(row + dy, 0, height - 1) * width + np.clip(column + dx, 0, width - 1)
            near = np.repeat(near, len(_PLACES))
            cost = np.abs(hits.distance[near] - fine.distance)
            cost = np.where(mark[near] == fine_mark, cost, np.float32(1e9))
            better = cost < best
            best[better], nearest[better] = cost[better], seen[near[better]]
            alike = np.einsum("ij,ij->i", hits.normal[near], fine.normal) > 0.8
            use = ((cost < 6.0 * view.pixel_mm) & alike).astype(np.float32)[:, None]
            total += use * seen[near]
            weight += use
    return np.where(weight > 0, total / np.maximum(weight, 1.0), nearest)
