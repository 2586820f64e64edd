"""The solid of a cast lip or a printed liner: between the hard band's face and the skin, with drafted edges.

All of it is one grid: stations along the seal line by rows across it, once on the hard face and once on the
skin side. The two are joined by edges that stand square on the band where a mould can then be opened along
its draw direction, and lean as far as it takes elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from ..errors import DoesNotFit, Where, plain_point
from ..face.stand_off import StandOff
from ..face.surface import FaceSurface
from ..facepiece.closed_curve import smoothed_round
from ..facepiece.contact_band import grid_normals
from ..facepiece.shell import closed_profile, grid_quads, quads_to_triangles
from ..mesh import Bools, Floats, TriMesh
from ..solids.crossings import crossing_pairs
from ..solids.distance import MeshDistance
from .band_face import BandFace
from .settings import Cushion

DRAFT_DEG = 3.0  # that a mould's walls lean at least: common practice for soft silicone, no source
_LEAST_RISE = 0.05  # cosine between the band's normal and the draw: steeper than 87 degrees it cannot open
_EVEN_STATIONS = 4.0  # normals are evened out over as many: 3.5 mm along the seal line
_FINER = 2  # times as many rows as the band has: chords on skin of 8 mm radius are then within 0.02 mm
_OPENS = np.sin(np.radians(0.5))  # every triangle of the cavity rises by at least half a degree
_EASINGS = 60
_UNFOLDINGS = 12
_BISECTIONS = 30
_SEARCH_ROUNDS = 3000


@dataclass(frozen=True, eq=False)
class Lip:
    """A lip as two grids, mm: stations (n) by rows (k), outer edge first.

    Attributes
    ----------
    hard, skin : (n, k, 3) points on the hard band and on the skin side.
    draw : (3,) unit, away from the skin: the direction in which a mould opens.
    eased_mm : how far a point was moved at most, where the skin turns back under itself, so that it opens.
    """

    hard: Floats
    skin: Floats
    draw: Floats
    eased_mm: float = 0.0

    @property
    def mesh(self) -> TriMesh:
        """The lip as a closed surface."""
        return closed_profile(np.concatenate([self.hard, self.skin[:, ::-1]], axis=1))


def lip_of(
    face: FaceSurface,
    band: BandFace,
    cushion: Cushion,
    body: TriMesh,
    cast: bool = True,
    stand_off: StandOff | None = None,
) -> Lip:
    """The lip between a finished body's band and the skin.

    Parameters
    ----------
    face : the skin.
    band : the contact rows of the finished body.
    cushion : thickness, and how much of it is left when seated.
    body : the finished body.
    cast : in a mould that has to open; else its edges stand square on the band everywhere.
    stand_off : of the hard band: what is shaped of it the skin side follows, so that the lip keeps its
        thickness. None for an even one.

    Raises
    ------
    DoesNotFit : the band turns so far round the face that no mould could be opened in one direction; or the
        skin side crosses itself.
    """
    hard = _finer(band.grid)
    hard = MeshDistance(body).closest(hard.reshape(-1, 3))[2].reshape(hard.shape)
    normals = grid_normals(hard, _EVEN_STATIONS)
    draw = draw_direction(normals.reshape(-1, 3))
    pressed = cushion.thickness_mm - cushion.seated_mm - _shaped(face, hard, stand_off)
    if not cast:
        return whole_lip(Lip(hard, _skin_side(face, hard, normals, normals, pressed), draw))
    worst = np.unravel_index(int(np.argmin(normals @ draw)), normals.shape[:2])
    if float(normals[worst] @ draw) < _LEAST_RISE:
        raise DoesNotFit(
            "The band turns so far round the face that a mould of two halves could not be opened.",
            Where("cushion", point=plain_point(hard[worst]), key="recipe.cushion.kind"),
            "Take a foam strip, or a seal line that passes in front of the chin.",
        )
    skin = _skin_side(face, hard, _edge_directions(hard, normals, draw), normals, pressed)
    open_hard, open_skin = _opened(hard, draw), _opened(skin, draw)
    eased = max(_off_surface(hard, open_hard), _off_surface(skin, open_skin))
    return Lip(open_hard, open_skin, draw, eased)


def whole_lip(lip: Lip) -> Lip:
    """A lip whose skin side does not cross itself: where it does, as in a deep crease, it is evened out.

    Raises
    ------
    DoesNotFit : it crosses itself still; it is no matter of a few points then.
    """
    skin, stations, rows = lip.skin.copy(), *lip.skin.shape[:2]
    whole = lip
    for _ in range(_UNFOLDINGS):
        pairs = crossing_pairs(whole.mesh)
        if not len(pairs):
            eased = 0.0 if whole is lip else _off_surface(lip.skin, skin)
            return replace(whole, eased_mm=eased)
        station, row = np.divmod(np.unique(whole.mesh.faces[pairs.ravel()]), 2 * rows)
        crossed = np.zeros((stations, rows), dtype=np.bool_)
        crossed[station, np.where(row < rows, row, 2 * rows - 1 - row)] = True
        _even_out(skin, crossed)
        whole = replace(lip, skin=skin.copy())
    raise DoesNotFit(
        "The skin under the band turns back under itself; a soft part that follows it would cross itself.",
        Where("cushion", point=plain_point(lip.mesh.corners[pairs[0, 0], 0]), key="recipe.cushion.kind"),
        "Take a foam strip, or a seal line that stays off the side of the nose there.",
    )


def _even_out(grid: Floats, places: Bools) -> None:
    """Even out points of a grid (n, k, 3), at places (n, k) and beside them, with their neighbours."""
    near = ndimage.binary_dilation(np.concatenate([places[-2:], places, places[:2]]), np.ones((3, 3)))[2:-2]
    even = ndimage.uniform_filter1d(grid, 3, axis=0, mode="wrap")
    even[:, 1:-1] = ndimage.uniform_filter1d(even, 3, axis=1, mode="nearest")[:, 1:-1]
    grid[near] = even[near]


def _shaped(face: FaceSurface, hard: Floats, stand_off: StandOff | None) -> Floats:
    """How far (n, k) the skin side keeps off the skin at hard points (n, k, 3), mm."""
    if stand_off is None:
        return np.zeros(hard.shape[:2])
    return stand_off.shaped_at(face.chart, face.chart.place_of(hard)[0])


def draw_direction(normals: Floats) -> Floats:
    """The direction (3,) whose smallest cosine with unit normals (n, 3) is largest.

    The mean is turned towards the worst normal by ever smaller steps (perceptron rule with averaging out).
    """
    draw = normals.mean(axis=0)
    draw = draw / np.linalg.norm(draw)
    best, best_cosine = draw, float((normals @ draw).min())
    for i in range(_SEARCH_ROUNDS):
        worst = int(np.argmin(normals @ draw))
        draw = draw + normals[worst] / (10.0 + i)
        draw = draw / np.linalg.norm(draw)
        cosine = float((normals @ draw).min())
        if cosine > best_cosine:
            best, best_cosine = draw, cosine
    return np.asarray(best)


def _finer(grid: Floats) -> Floats:
    """A grid with more rows and as many more stations, straight between those that are there."""
    after = np.roll(grid, -1, axis=0)
    parts = [(1 - s) * grid + s * after for s in np.arange(_FINER) / _FINER]
    along = np.stack(parts, axis=1).reshape(-1, *grid.shape[1:])
    rows = np.linspace(0.0, grid.shape[1] - 1.0, _FINER * (grid.shape[1] - 1) + 1)
    low = np.minimum(rows.astype(int), grid.shape[1] - 2)
    share = (rows - low)[None, :, None]
    return np.asarray((1 - share) * along[:, low] + share * along[:, low + 1])


def _edge_directions(hard: Floats, normals: Floats, draw: Floats) -> Floats:
    """Directions (n, k, 3), unit, from the skin side to the hard side.

    Along the normals where the outward direction across the band falls by the draft against the draw; else
    leaning outwards as far as that takes. Then the outer edge leaves one half of a mould and the inner edge
    the other.
    """
    out = hard[:, :1] - hard[:, -1:]
    out = np.broadcast_to(out, hard.shape)
    out = out - (out * normals).sum(-1, keepdims=True) * normals
    out = out / np.linalg.norm(out, axis=-1, keepdims=True)
    falls, rises = out @ draw, normals @ draw
    size = np.hypot(falls, rises)
    wanted = np.sin(np.radians(2.0 * DRAFT_DEG))  # twice: evening out takes some of it away
    lean = np.arccos(np.clip(-wanted / size, -1.0, 1.0)) - np.arctan2(rises, falls)
    lean = np.where(falls <= -wanted, 0.0, np.maximum(lean, 0.0)).max(axis=1)
    lean = ndimage.maximum_filter1d(lean, 9, mode="wrap")
    lean = smoothed_round(lean, 2.0)[:, None, None]
    return np.asarray(np.cos(lean) * normals + np.sin(lean) * out)


def _opened(grid: Floats, draw: Floats) -> Floats:
    """A grid without places that hang over along the draw: their points are evened out with their neighbours.

    Raises
    ------
    DoesNotFit : some hang over still; it is no matter of a few points then.
    """
    opened = grid.copy()
    for _ in range(_EASINGS):
        hangs = _hanging(opened, draw)
        if not hangs.any():
            return opened
        _even_out(opened, hangs)
    station, row = np.argwhere(_hanging(opened, draw))[0]
    raise DoesNotFit(
        "The skin under the band turns back under itself; a mould of the lip could not be opened.",
        Where("cushion", point=plain_point(grid[station, row]), key="recipe.cushion.kind"),
        "Take a foam strip, or a seal line that stays off the side of the nose there.",
    )


def _off_surface(before: Floats, after: Floats) -> float:
    """How far a grid's points lie off the surface of what it was before, mm, at most."""
    triangles = quads_to_triangles(grid_quads(*before.shape[:2]), len(before))
    surface = MeshDistance(TriMesh(np.ascontiguousarray(before.reshape(-1, 3)), triangles))
    return float(surface.to(after.reshape(-1, 3)).max())


def _hanging(grid: Floats, draw: Floats) -> Bools:
    """Points (n, k) at a corner of a triangle that rises less than half a degree against the draw."""
    triangles = quads_to_triangles(grid_quads(*grid.shape[:2]), len(grid))
    points = grid.reshape(-1, 3)
    a, b, c = (points[triangles[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    rise = normal @ draw / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)
    rise = rise if np.median(rise) > 0.0 else -rise
    found = np.zeros(len(points), dtype=bool)
    found[triangles[rise < _OPENS].ravel()] = True
    return found.reshape(grid.shape[:2])


def _skin_side(
    face: FaceSurface, hard: Floats, towards: Floats, normals: Floats, pressed_mm: Floats
) -> Floats:
    """Points (n, k, 3) on the skin, and below it by what the lip is pressed when seated."""
    low, high = np.zeros(hard.shape[:2]), np.full(hard.shape[:2], 40.0)
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        outside = face.height_of(hard - towards * middle[..., None]) > 0.0
        low, high = np.where(outside, middle, low), np.where(outside, high, middle)
    depth = 0.5 * (low + high) + pressed_mm / np.maximum((towards * normals).sum(-1), 0.3)
    return np.asarray(hard - towards * depth[..., None])
