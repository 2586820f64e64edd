"""The shell: band and wall as one quad grid with a face side and an outer side, closed into a solid."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..errors import BandFolds, Folds, Where
from ..mesh import Bools, Floats, TriMesh
from ..solids.crossings import crossing_pairs
from .chamber_wall import ChamberWall
from .contact_band import ContactBand, grid_normals
from .overhang import PrintDown, fill_under_rim

_FILLED_MM = 0.05  # a fill thinner than this is none
_FILLET_ROWS = 6  # beside the band that go with it when a fold is told
_CAP_ROWS = 3  # rows that round the free outer edge


@dataclass(frozen=True, eq=False)
class Shell:
    """Band and wall before trimming, face frame.

    Attributes
    ----------
    face_side, outer_side : (n, k, 3) mm, stations by rows, outer edge first, port last.
    normals : (n, k, 3) unit, from the face side to the outer side.
    thickness_mm : (n, k) wanted wall thickness; in the contact rows more, because they reach below the skin.
    contact : (k,) rows of the contact band.
    wall : (k,) rows of the chamber wall proper.
    edge : (n, c, 3) the rounded free edge, from the outer side to the face side.
    filled : (n, k) where a fill under the rim thickens band or wall.
    """

    face_side: Floats
    outer_side: Floats
    normals: Floats
    thickness_mm: Floats
    contact: Bools
    wall: Bools
    edge: Floats
    filled: Bools

    @property
    def band_end(self) -> int:
        """The innermost row of the contact band."""
        return int(np.flatnonzero(self.contact)[-1])

    @property
    def chamber_side(self) -> Floats:
        """The face side (n, k, 3) from the inner end of the band to the port, which the air meets."""
        return self.face_side[:, self.band_end :]

    @property
    def quads(self) -> NDArray[np.int32]:
        """Quads (n * (k - 1), 4) of the outer side, counter-clockwise seen from outside."""
        return grid_quads(*self.outer_side.shape[:2])[:, ::-1]


def make_shell(
    band: ContactBand,
    wall: ChamberWall,
    wall_mm: float,
    sigma_stations: float,
    down: PrintDown | None = None,
) -> Shell:
    """Join band and wall into one shell.

    Parameters
    ----------
    band, wall : grids that share two rows.
    wall_mm : thickness of the chamber wall.
    sigma_stations : smoothing of the normals along the seal line.
    down : how the body prints; rim and band are then filled down to the wall where they would hang in the
        air.
    """
    sheet = np.concatenate([band.grid, wall.grid[:, 2:]], axis=1)
    added = wall.grid.shape[1] - 2
    count = len(sheet)
    reach = np.concatenate([band.reach_down, np.zeros((count, added))], axis=1)
    lift = np.concatenate([band.lift, np.full((count, added), wall_mm)], axis=1)
    normals = grid_normals(sheet, sigma_stations / 2.0)
    contact = np.concatenate([band.contact, np.zeros(added, dtype=bool)])
    is_wall = np.concatenate([np.zeros(len(band.contact), dtype=bool), np.ones(added, dtype=bool)])
    is_wall[-3:] = False  # in and beside the port boss
    face_side, outer_side = sheet + reach[..., None] * normals, sheet + lift[..., None] * normals
    # In the boss the wall may turn into the bore more sharply than it is thick.
    outer_side[:, -3:-1] = _between(outer_side[:, -4], outer_side[:, -1])
    edge = _edge_cap(outer_side[:, 0], face_side[:, 0], face_side[:, 1])
    thickness, filled = lift - reach, np.zeros(lift.shape, dtype=np.bool_)
    if down is not None:
        plain = outer_side
        edge, outer_side = fill_under_rim(edge, plain, len(band.contact), down, sigma_stations)
        filled = np.linalg.norm(outer_side - plain, axis=-1) > _FILLED_MM
        thickness = np.linalg.norm(outer_side - face_side, axis=-1)
        normals = (outer_side - face_side) / thickness[..., None]
    return Shell(face_side, outer_side, normals, thickness, contact, is_wall, edge, filled)


def _between(first: Floats, last: Floats) -> Floats:
    """Two rows (n, 2, 3) evenly between two rows (n, 3)."""
    share = np.array([1.0, 2.0])[None, :, None] / 3.0
    return np.asarray((1.0 - share) * first[:, None] + share * last[:, None])


def grid_quads(stations: int, rows: int) -> NDArray[np.int32]:
    """Quads (n * (k - 1), 4) of a grid closed along its stations, vertex index = station * rows + row."""
    i = np.arange(stations, dtype=np.int32)[:, None]
    j = np.arange(rows - 1, dtype=np.int32)[None, :]
    after = (i + 1) % stations
    corners = [i * rows + j, after * rows + j, after * rows + j + 1, i * rows + j + 1]
    return np.stack(corners, axis=-1).reshape(-1, 4).astype(np.int32)


def quads_to_triangles(quads: NDArray[np.int32], stations: int) -> NDArray[np.int32]:
    """Triangles of grid quads in station order; diagonals mirror between the two halves of the line."""
    half = len(quads) // stations * (stations // 2)
    one, two = quads[:half], quads[half:]
    return np.vstack([one[:, [0, 1, 2]], one[:, [0, 2, 3]], two[:, [0, 1, 3]], two[:, [1, 2, 3]]]).astype(
        np.int32
    )


def shell_mesh(shell: Shell) -> TriMesh:
    """The shell closed into a solid torus: face side, outer side, rounded free edge, ring in the port.

    Returns
    -------
    A closed, outward mesh (its genus is one).
    """
    # Up the outer side, round the free edge, back along the face side.
    return closed_profile(np.concatenate([shell.outer_side[:, ::-1], shell.edge, shell.face_side], axis=1))


def closed_profile(loop: Floats, turn_last: bool = False) -> TriMesh:
    """A closed, outward surface through one closed profile (n, k, 3) per station, stations in a ring.

    ``turn_last`` halves the quads between the last and the first point of the profiles along the other
    diagonal: as they are halved where the same two points follow each other the other way round.
    """
    stations, length = loop.shape[:2]
    quads = grid_quads(stations, length + 1)
    if turn_last:
        quads[length - 1 :: length] = np.roll(quads[length - 1 :: length], 1, axis=1)
    station, row = quads // (length + 1), quads % (length + 1) % length
    faces = quads_to_triangles((station * length + row).astype(np.int32), stations)
    mesh = TriMesh(np.ascontiguousarray(loop.reshape(-1, 3)), faces)
    return mesh if mesh.volume > 0 else mesh.flipped()


def _edge_cap(top: Floats, bottom: Floats, inner: Floats) -> Floats:
    """Rows (n, 3, 3) of a half circle from the outer side (n, 3) round the free edge to the face side (n, 3).

    ``inner`` (n, 3) lies next on the face side, away from the edge.
    """
    middle, arm = (top + bottom) / 2, (top - bottom) / 2
    out = bottom - inner
    axis = arm / np.linalg.norm(arm, axis=1, keepdims=True)
    out = out - (out * axis).sum(1, keepdims=True) * axis
    out = out / np.linalg.norm(out, axis=1, keepdims=True) * np.linalg.norm(arm, axis=1, keepdims=True)
    angle = np.pi * np.arange(1, _CAP_ROWS + 1) / (_CAP_ROWS + 1)
    return np.asarray(
        middle[:, None]
        + np.cos(angle)[None, :, None] * arm[:, None]
        + np.sin(angle)[None, :, None] * out[:, None]
    )


def require_unfolded(shell: Shell) -> None:
    """Refuse a shell one of whose sides folds over, which no boolean would report.

    A quad that turns against the shell's normals is only a suspicion, since a fill may lean far; then the
    exact test for crossing triangles decides.

    Raises
    ------
    BandFolds : a side of the band and its fillet folds through itself; `where` has the place.
    Folds : a side of the chamber wall does.
    """
    for side, grid in (("face side", shell.face_side), ("outer side", shell.outer_side)):
        folded = np.argwhere(_turned_quads(grid, shell.normals))
        if len(folded) and len(crossing_pairs(shell_mesh(shell))):
            station, row = (int(i) for i in folded[0])
            x, y, z = grid[station, row]
            where = Where("contact band", point=(float(x), float(y), float(z)), indices=(station,))
            if row <= shell.band_end + _FILLET_ROWS:
                raise BandFolds(
                    f"The {side} of the contact band folds over itself in {len(folded)} places.",
                    where,
                    "Choose a narrower band, a smaller fillet or less thickness, or move the seal line.",
                )
            raise Folds(
                f"The {side} of the chamber wall folds over itself in {len(folded)} places.",
                replace(where, role="chamber wall"),
                "Choose a narrower band, a smaller fillet or less thickness, or move the seal line.",
            )


def _turned_quads(grid: Floats, normals: Floats) -> Bools:
    """Quads (n, k - 1) of a grid closed along its stations with a corner that faces against its normal.

    All four corners are looked at: where stations draw together a quad may cross itself like a bow tie and
    still face the right way as a whole.
    """
    along, across = np.roll(grid, -1, axis=0) - grid, np.diff(grid, axis=1)
    after = np.roll(across, -1, axis=0)
    turned = np.zeros(across.shape[:2], dtype=np.bool_)
    for rows in (slice(None, -1), slice(1, None)):
        for edge, corner in ((across, normals), (after, np.roll(normals, -1, axis=0))):
            turned |= (np.cross(edge, along[:, rows]) * corner[:, rows]).sum(-1) <= 0
    return turned


def side_mesh(grid: Floats) -> TriMesh:
    """One side of the shell (n, k, 3) as an open mesh, facing away from the skin."""
    stations, rows = grid.shape[:2]
    faces = quads_to_triangles(grid_quads(stations, rows)[:, ::-1], stations)
    return TriMesh(np.ascontiguousarray(grid.reshape(-1, 3)), faces)
