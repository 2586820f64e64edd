"""Contact in which neighbours hold each other: a rigid mask on a bonded elastic layer.

For designs that are shown; the search works with springs (`contact`), which miss edges most. Influence of
every point on every other by `layer_kernel.point_compliance`, with the geometric means of modulus and
thickness of the two: exact on an even layer, symmetric on any. A soft strip on the band is a second layer
that takes the same pressure. Sideways every point holds by its own stiffness up to friction times its
pressure, then it slips.

Weak: linear and small strain; skin beyond the edge is continued in its tangent plane; no creep.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.spatial.distance import cdist

from ..errors import NotConverged, Where, plain_point
from ..mesh import Bools, Floats
from ..parallel import in_threads
from .comfort import area_quantile
from .contact import solve_contact
from .contact_result import ContactSettings
from .equilibrium import Wrench, resultant_wrench, shear_matrix
from .foundation import KPA, GasketSettings, foundation_of
from .layer_kernel import point_compliance
from .loop import Loop, loop_of
from .loop_solver import LoopSolver
from .patch import Codes, ContactPatch, StrapPull, contact_patch_of
from .skin_map import mix_of, tissue_of

EDGE_STEP_MM = 0.8  # between the points that are added along the roll of an edge
EDGE_STEPS = 3
_ROUNDS = 60
_STRIP = 128  # rows
_REACH_MM = 1.0  # points that stay farther off than this in the springs' balance cannot come to touch


@dataclass(frozen=True)
class EdgeRadii:
    """Radii by which the band leaves the skin at its ends, mm: outer roll and inner fillet."""

    outer_mm: float
    inner_mm: float


@dataclass(frozen=True, eq=False)
class LayerContact:
    """A mask in balance on an elastic layer.

    Attributes
    ----------
    pressure_kpa : (n,) on the points of the band, never negative.
    edge_kpa : (k,) on the points added along its edges.
    peak_kpa, p95_kpa, mean_kpa : highest, the one that 95 % of the touching area stay below, mean; edges
    included.
    share_closed : share of the seal line that touches.
    slipping_share : share of the touching area that has slipped.
    motion : (6,) shifts in mm, turns times reach.
    residual : unbalanced load as a share of the load.
    rounds : active-set rounds.
    """

    pressure_kpa: Floats
    edge_kpa: Floats
    peak_kpa: float
    p95_kpa: float
    mean_kpa: float
    share_closed: float
    slipping_share: float
    motion: Floats
    residual: float
    rounds: int


def with_edges(patch: ContactPatch, loop: Loop, edges: EdgeRadii) -> ContactPatch:
    """The band with points along the roll of its edges added behind its own: gap d^2 / 2 r beyond the end."""
    order, starts = loop.order, loop.starts
    last = np.r_[starts[1:], len(order)] - 1
    added = []
    for ends, inner, radius in ((starts, starts + 1, edges.inner_mm), (last, last - 1, edges.outer_mm)):
        if (np.diff(np.r_[starts, len(order)]) < 2).any():
            break
        at, before = order[ends], order[inner]
        way = patch.points[at] - patch.points[before]
        way /= np.linalg.norm(way, axis=1, keepdims=True)
        sign = np.sign(patch.across_mm[at] - patch.across_mm[before])
        for step in range(1, EDGE_STEPS + 1):
            away = step * EDGE_STEP_MM
            added.append((at, patch.points[at] + away * way, away**2 / (2.0 * radius), sign * away))
    if not added:
        return patch
    index = np.concatenate([at for at, *_ in added])
    mix = mix_of(patch)
    return contact_patch_of(
        np.vstack([patch.points, *[place for _, place, _, _ in added]]),
        np.vstack([patch.normals, patch.normals[index]]),
        np.concatenate([patch.areas, loop.width_mm[patch.station[index]] * EDGE_STEP_MM]),
        np.concatenate([patch.gap_mm, *[patch.gap_mm[at] + lift for at, _, lift, _ in added]]),
        np.concatenate([patch.station, patch.station[index]]),
        np.concatenate([patch.across_mm, *[patch.across_mm[at] + off for at, _, _, off in added]]),
        np.concatenate([patch.region, patch.region[index]]),
        np.vstack([mix, mix[index]]),
    )


def influence(patch: ContactPatch, settings: ContactSettings, rows: Codes | None = None) -> Floats:
    """Sinking (n, n), mm, of every point per N on every other: skin, and soft layer if any."""
    chosen, index = settings.foundation, np.arange(len(patch.points)) if rows is None else rows
    tissue = tissue_of(patch, chosen.skin)
    points, radius = patch.points[index], np.sqrt(patch.areas[index] / np.pi)
    # Geometric means of two points are products of roots.
    width, deep = np.sqrt(radius), np.sqrt(tissue.thickness_mm[index])
    firm = np.sqrt(tissue.modulus_kpa[index] * KPA)
    layer: GasketSettings = chosen.gasket
    total = np.empty((len(index), len(index)))

    def fill(first: int) -> None:
        """One strip of rows, from its own points on."""
        own, rest = slice(first, first + _STRIP), slice(first, None)
        distance, reach = cdist(points[own], points[rest]), np.outer(width[own], width[rest])
        # Points of folded places lie on each other: what they stand for lies beside each other.
        apart = np.maximum(distance, 1.5 * reach)
        np.fill_diagonal(apart, 0.0)
        skin = point_compliance(apart, np.outer(deep[own], deep[rest]), reach, chosen.skin.poisson)
        both = skin / np.outer(firm[own], firm[rest])
        if layer.thickness_mm > 0.0:
            soft = point_compliance(apart, np.full_like(apart, layer.thickness_mm), reach, layer.poisson)
            both += soft / (layer.modulus_kpa * KPA)
        total[own, rest] = both
        total[rest, own] = both.T

    # Strips of rows stay in the processor's cache, and each pair is worked out once.
    for _ in in_threads(fill, range(0, len(index), _STRIP)):
        pass
    return total


def layer_contact(
    patch: ContactPatch,
    pulls: Sequence[StrapPull],
    settings: ContactSettings | None = None,
    edges: EdgeRadii | None = None,
    extra: Wrench | None = None,
) -> LayerContact:
    """Balance a rigid mask on the layer under its straps, by active sets.

    Parameters
    ----------
    patch, pulls, settings, extra : as for `contact.solve_contact`, whose balance is the start.
    edges : radii of the band's edges; None leaves the edges sharp.

    Raises
    ------
    NotConverged : the springs find no balance, or the active set does not settle.
    BadRecipe : a setting out of range.
    """
    chosen = settings or ContactSettings()
    loop = loop_of(patch)
    start = solve_contact(patch, pulls, chosen, loop=loop, extra=extra)
    whole = patch if edges is None else with_edges(patch, loop, edges)
    load = resultant_wrench(pulls, patch.centre)
    load = load if extra is None else load.plus(extra)
    return _Solve(patch, whole, chosen, load, start.motion).run()


class _Solve:
    """Active sets on the points that may touch."""

    def __init__(
        self, patch: ContactPatch, whole: ContactPatch, chosen: ContactSettings, load: Wrench, motion: Floats
    ) -> None:
        self.patch, self.whole, self.chosen = patch, whole, chosen
        opening, moving = _about(whole, patch)
        self.scale = np.r_[np.ones(3), np.full(3, patch.reach_mm)]
        self.start = motion * self.scale
        gap = whole.gap_mm + opening @ self.start
        self.rows = np.flatnonzero(gap < _REACH_MM)
        self.active: Bools = gap[self.rows] < 0.0
        self.opening, self.moving = opening[self.rows], moving[self.rows]
        self.gap = whole.gap_mm[self.rows]
        self.areas = whole.areas[self.rows]
        self.sink = influence(whole, chosen, self.rows)
        self.solver = LoopSolver(self.sink, whole.station[self.rows], patch.station_count)
        springs = foundation_of(whole, chosen.foundation)
        self.shear = springs.shear[self.rows] * self.areas
        self.pull = np.concatenate([load.force_n, load.moment_nmm / patch.reach_mm])

    def run(self) -> LayerContact:
        """Rounds until the set of touching points and the slip stand still."""
        motion, force = self.start, np.zeros(len(self.rows))
        hold = 0.0 * self.shear
        for number in range(1, _ROUNDS + 1):
            motion, force = self._solved(hold)
            gap = self.gap + self.opening @ motion + self.sink @ force
            # A slip of the pen of 1e-7 mm must not keep points going in and out.
            wrong = (self.active & (force < 0.0)) | (~self.active & (gap < -1e-7))
            before, hold, slipping = hold, *self._held(motion, force)
            settled = np.abs(hold - before).max() <= 1e-3 * max(float(self.shear.max()), 1e-12)
            if not wrong.any() and settled:
                return self._result(motion, force, slipping, number)
            self.active = np.where(wrong, ~self.active, self.active)
        raise NotConverged(
            f"The elastic layer finds no balance in {_ROUNDS} rounds.",
            Where("contact band", point=plain_point(self.patch.centre)),
            "Check gaps, straps and stiffness of the band.",
        )

    def _solved(self, hold: Floats) -> tuple[Floats, Floats]:
        """Motion (6,) and forces (n,) for the present touching points and sideways stiffness (n,) N/mm."""
        active = self.active
        side = shear_matrix(self.opening, self.moving, hold) + 1e-9 * np.eye(6)
        wanted = np.column_stack([self.opening, self.gap])
        both = self.solver.solve(active, wanted)
        if both is None:
            both = np.zeros_like(wanted)
            both[active] = cho_solve(_factor(self.sink[np.ix_(active, active)]), wanted[active])
        stiff = self.opening.T @ both[:, :6] + side
        motion = np.linalg.solve(stiff, self.pull - self.opening.T @ both[:, 6])
        return np.asarray(motion), -(both[:, 6] + both[:, :6] @ motion)

    def _held(self, motion: Floats, force: Floats) -> tuple[Floats, Bools]:
        """Sideways stiffness (n,) with slip: what a point holds is at most friction times its force."""
        slide = (self.moving.reshape(-1, 6) @ motion).reshape(-1, 3)
        normal = self.opening[:, :3]
        slide -= np.einsum("ij,ij->i", normal, slide)[:, None] * normal
        length = np.linalg.norm(slide, axis=1)
        limit = self.chosen.friction * np.maximum(force, 0.0)
        held = np.minimum(self.shear, limit / np.maximum(length, 1e-9)) * (force > 0.0)
        return held, np.asarray((self.shear * length > limit) & (force > 0.0))

    def _result(self, motion: Floats, force: Floats, slipping: Bools, rounds: int) -> LayerContact:
        pressure = np.zeros(len(self.whole.points))
        pressure[self.rows] = np.maximum(force, 0.0) / self.areas / KPA
        touching = pressure > 0.0
        area = self.whole.areas[touching]
        count = len(self.patch.points)
        station = np.zeros(self.patch.station_count)
        np.maximum.at(station, self.patch.station, pressure[:count])
        width = loop_of(self.patch).width_mm
        hold, _ = self._held(motion, force)
        side = shear_matrix(self.opening, self.moving, hold)
        left = side @ motion - self.opening.T @ force - self.pull
        return LayerContact(
            pressure[:count],
            pressure[count:],
            float(pressure.max()),
            area_quantile(pressure[touching], area, 0.95),
            float(pressure[touching] @ area / area.sum()),
            float(width[station > 0.0].sum() / width.sum()),
            float(self.areas[slipping].sum() / area.sum()),
            motion,
            float(np.abs(left).max() / np.linalg.norm(self.pull)),
            rounds,
        )


def _factor(sink: Floats) -> tuple[Floats, bool]:
    """Cholesky factor; where crowded points spoil it, with a little compliance of each point's own added."""
    own = float(np.diag(sink).mean())
    for share in (0.0, 0.02, 0.05, 0.1, 0.2):
        try:
            stiffer = sink.copy()
            stiffer[np.diag_indices(len(sink))] += share * own
            factor, lower = cho_factor(stiffer, overwrite_a=True, check_finite=False)
        except np.linalg.LinAlgError:
            continue
        return np.asarray(factor), bool(lower)
    raise NotConverged(
        "The points of the contact band lie too close together for the elastic layer.",
        Where("contact band"),
        "Move the seal line off sharp corners.",
    )


def _about(whole: ContactPatch, patch: ContactPatch) -> tuple[Floats, Floats]:
    """Columns of motion of all points about the centre of the band alone."""
    arm = (whole.points - patch.centre) / patch.reach_mm
    moving = np.zeros((len(arm), 3, 6))
    moving[:, 0, 0] = moving[:, 1, 1] = moving[:, 2, 2] = 1.0
    moving[:, 1, 3], moving[:, 2, 3] = -arm[:, 2], arm[:, 1]
    moving[:, 0, 4], moving[:, 2, 4] = arm[:, 2], -arm[:, 0]
    moving[:, 0, 5], moving[:, 1, 5] = -arm[:, 1], arm[:, 0]
    return np.hstack([whole.normals, np.cross(arm, whole.normals)]), moving
