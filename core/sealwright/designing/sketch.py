"""A design without solids: line, band, wall and straps only, fast enough for a search or while dragging."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..face.surface import FaceSurface
from ..facepiece.quick_tube import no_band
from ..facepiece.shell import Shell, grid_quads, quads_to_triangles, require_unfolded
from ..facepiece.strap_points import strap_points
from ..hardware.allowance import allowance_of
from ..mesh import Floats
from ..progress import StageCache, run_to_end
from ..recipe import Recipe
from .design import Design, _port_stage
from .prepared import Prepared
from .seal_and_shape import laid_out


def sketch(
    prepared: Prepared,
    recipe: Recipe,
    seal_points: Sequence[Sequence[float]] | None = None,
    cache: StageCache | None = None,
) -> Design:
    """A preview of a design without booleans: no parts, no measurements, but all that predictions need.

    Parameters
    ----------
    prepared, recipe, seal_points, cache : as for `design.make_design`.

    Raises
    ------
    DoesNotFit : a tube; or a shell that folds over itself.
    DesignError : any refusal of a stage that takes part.
    """
    if recipe.kind == "tube":
        raise no_band()
    kept = cache if cache is not None else StageCache()
    allowance = allowance_of(recipe.allowance)
    port = _port_stage(prepared, recipe, allowance)
    line, shape = run_to_end(laid_out(prepared, recipe, port, "preview", seal_points, kept))
    shell = shape.shell
    require_unfolded(shell)
    straps = strap_points(shell, recipe.straps, shape.port.frame[:3, 2], allowance)
    facts = {
        "seal_line_length_mm": line.length_mm,
        "dead_space_ml": chamber_ml(prepared.face, shell),
        **shape.facts,
        "ports": [shape.port.parts.facts],
    }
    placed, points = (shape.port,), tuple(straps)
    return Design(recipe, prepared, {}, line, shape.band, shell, placed, points, None, None, None, facts, ())


def chamber_ml(face: FaceSurface, shell: Shell) -> float:
    """Air between skin and chamber side, ml, from the rays of the chart instead of solids.

    Sum over triangles of the chamber side of the solid angle seen from the chart's centre, times the
    difference of the cubes of the radii over three; the port is closed by a flat fan.
    """
    first = int(np.flatnonzero(shell.contact)[-1])
    rows = shell.face_side[:, first:]
    stations, count = rows.shape[:2]
    faces = quads_to_triangles(grid_quads(stations, count), stations)
    points = np.vstack([rows.reshape(-1, 3), rows[:, -1].mean(axis=0)[None]])
    rim = np.arange(stations) * count + count - 1
    fan = np.stack([np.full(stations, len(points) - 1), rim, np.roll(rim, -1)], axis=1)
    corners = points[np.vstack([faces, fan])] - face.chart.centre
    angle = _solid_angle(corners)
    # The side faces inwards or outwards as a whole; air is counted as positive.
    angle *= np.sign(angle.sum())
    outer = np.linalg.norm(corners, axis=2).mean(axis=1)
    inner = face.radius_at(face.chart.place_of(points[np.vstack([faces, fan])].mean(axis=1))[0])
    return float((angle * (outer**3 - inner**3)).sum() / 3.0 / 1000.0)


def _solid_angle(corners: Floats) -> Floats:
    """Signed solid angle (m,) of triangles (m, 3, 3) seen from the origin (Van Oosterom, Strackee 1983)."""
    a, b, c = np.moveaxis(corners, 1, 0)
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    below = la * lb * lc
    below += (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return np.asarray(2.0 * np.arctan2(volume, below))
