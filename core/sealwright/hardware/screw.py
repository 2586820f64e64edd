"""A thread as one closed helicoidal mesh, made as a grid and trimmed once by a turned envelope."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import BadRecipe, Where
from ..mesh import Floats, Ints, TriMesh
from ..solids.boolean import Solid, intersection, solid_of
from ..solids.primitives import SEGMENTS, around_circle, revolved


@dataclass(frozen=True)
class Helix:
    """A right-handed helix of ridges about Z.

    Attributes
    ----------
    line : (k, 2) axial position and radius over one pitch, mid-ridge at position 0, positions increasing.
    pitch_mm, starts : axial ridge distance, and ridges side by side; lead = pitch * starts.
    z_phase_mm : height of a mid-ridge at angle 0.
    """

    line: Floats
    pitch_mm: float
    starts: int
    z_phase_mm: float

    @property
    def lead_mm(self) -> float:
        """Advance per turn, mm."""
        return self.pitch_mm * self.starts


def rod_mesh(helix: Helix, z_low_mm: float, z_high_mm: float, segments: int = SEGMENTS) -> TriMesh:
    """A threaded rod at least from one height to the other, closed by stepped helicoidal ends outside them.

    Column i lies at angle 2 pi i / segments and holds one lead of the profile; its last point is the first of
    column i + segments, so the turns share their vertices and the surface is one sheet.

    Raises
    ------
    BadRecipe : fewer segments than points over one lead.
    """
    lead, starts = helix.lead_mm, helix.starts
    step = np.arange(starts) * helix.pitch_mm
    line = np.concatenate([helix.line + np.array([s, 0.0]) for s in step])  # one lead
    k = len(line)
    if k > segments:
        raise BadRecipe(
            f"A thread of {starts} starts needs at least {k} segments per turn; there are {segments}.",
            Where("recipe", key="port.segments"),
            "Raise the number of segments or take fewer starts.",
        )
    first = math.floor((z_low_mm - helix.z_phase_mm) / lead) - 2
    turns = math.ceil((z_high_mm - helix.z_phase_mm) / lead) + 1 - first
    last = turns * segments  # index of the last full column
    vertices = _rod_vertices(helix, line, first, last, segments)
    return TriMesh(vertices, _rod_faces(k, last, segments))


def _rod_vertices(helix: Helix, line: Floats, first: int, last: int, segments: int) -> Floats:
    """Columns 0..last in full, then the starts of the next turn's columns, then the axis of both ends."""
    column = np.concatenate(
        [np.repeat(np.arange(last + 1), len(line)), np.arange(last + 1, last + segments + 1)]
    )
    point = np.concatenate([np.tile(np.arange(len(line)), last + 1), np.zeros(segments, dtype=int)])
    turn = (column % segments) * (2.0 * math.pi / segments)
    radius = line[point, 1]
    start = helix.z_phase_mm + first * helix.lead_mm
    z = start + helix.lead_mm * (column / segments) + line[point, 0]
    wall = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), z])
    along = np.append(line[:, 0], helix.lead_mm)
    low = np.column_stack([np.zeros((len(along), 2)), start + along])
    high = low + np.array([0.0, 0.0, helix.lead_mm * (last / segments)])
    return np.vstack([wall, low, high])


def _rod_faces(k: int, last: int, n: int) -> Ints:
    """Triangles of the sheet, of both end profiles, and of both helicoidal end faces."""
    full = (last + 1) * k

    def at(i: Ints, j: Ints) -> Ints:
        """Vertex of point j in 0..k of column i; point k is the first of column i + n."""
        column, point = i + n * (j == k), np.where(j == k, 0, j)
        out: Ints = np.where(column <= last, column * k + point, full + column - last - 1).astype(np.int32)
        return out

    i, j = (a.ravel().astype(np.int32) for a in np.meshgrid(np.arange(last), np.arange(k), indexing="ij"))
    a, b, c, d = at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)
    parts = [np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]
    axis_low = full + n + np.arange(k + 1, dtype=np.int32)
    row = np.arange(k, dtype=np.int32)
    turn = np.arange(n, dtype=np.int32)
    zero = np.zeros_like(turn)
    spoke = (turn * k) // n  # axis point each helix edge of an end face fans to: climbs with the helix
    climb = np.append(spoke[1:], k) > spoke
    for base, axis, sign in ((0, axis_low, 1), (last, axis_low + k + 1, -1)):
        column = np.full_like(row, base)
        p, q = at(column, row), at(column, row + 1)
        ends = [
            np.stack([p, q, axis[row + 1]], axis=1),
            np.stack([p, axis[row + 1], axis[row]], axis=1),
        ]
        u, v = at(base + turn, zero), at(base + turn + 1, zero)
        ends.append(np.stack([v, u, axis[spoke]], axis=1))
        ends.append(np.stack([v[climb], axis[spoke[climb]], axis[spoke[climb] + 1]], axis=1))
        parts += [part[:, ::sign] for part in ends]
    return np.ascontiguousarray(np.vstack(parts))


def screw(
    helix: Helix,
    envelope: ArrayLike,
    role: str,
    segments: int = SEGMENTS,
    female: bool = False,
) -> Solid:
    """A threaded solid: the helical rod inside a turned envelope.

    Parameters
    ----------
    envelope : (k, 2) radius and z, as for `revolved`: ends, lead-in chamfers and relief.
    female : the solid is a cutter for an internal thread; its corners are moved out so that its flat sides,
        not its corners, lie on the true radius, and a gap to a male part never falls below the stated one.

    Raises
    ------
    BadSolid, BooleanFailed : the envelope does not meet the thread.
    """
    grow = around_circle(1.0, segments) if female else 1.0
    outline = np.asarray(envelope, dtype=np.float64) * (grow, 1.0)
    line = helix.line * (1.0, grow)
    z_low, z_high = float(outline[:, 1].min()), float(outline[:, 1].max())
    rod = solid_of(
        rod_mesh(Helix(line, helix.pitch_mm, helix.starts, helix.z_phase_mm), z_low, z_high, segments), role
    )
    return intersection(role, rod, revolved(outline, f"{role} envelope", segments))
