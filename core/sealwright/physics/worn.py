"""What comes out of a design worn by many: a value for each draw, and how sure its quantiles are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix
from scipy.spatial import cKDTree

from ..mesh import Bools, Floats
from .batch import Singles
from .contact_result import ContactSettings
from .loop import Loop
from .patch import ContactPatch
from .skin import skin_sites
from .skin_map import mix_of
from .statics import POSITIONS

PATCH_CM2 = 1.0
"""Area over which pressure is averaged for what the skin bears, cm2: about that of a finger tip; our "
"choice."""

_BOOTSTRAPS = 200


@dataclass(frozen=True, eq=False)
class WornStates:
    """States of some draws.

    Attributes
    ----------
    pressure_kpa : (m, n) head upright, between breaths.
    around_kpa : (m, n) mean of that over 1 cm2 round every point.
    good : (m,) a balance was found.
    motion : (m, 6) of the mask, turns times reach.
    p95_kpa : (m,) pressure that 95 % of the touching skin stay below.
    hold : line held, place kept, line closed, each (positions, m); None where not asked for.
    fit : leak share (exercises, m) and leak (m, s) of every station, L/min; None likewise.
    penetration : (m,) of the filter.
    """

    pressure_kpa: Singles
    around_kpa: Singles
    good: Bools
    motion: Floats
    p95_kpa: Floats
    hold: tuple[Floats, Floats, Floats] | None
    fit: tuple[Floats, Floats] | None
    penetration: Floats


@dataclass(frozen=True, eq=False)
class Worn:
    """One design on every draw.

    Attributes
    ----------
    p95_kpa, peak_kpa, mean_kpa, contact_cm2 : (m,) pressure that 95 % of the touching skin stay below,
    highest,
        mean over the touching skin, touching area; head upright, between breaths.
    site_kpa : bony site -> (m,) highest mean over 1 cm2 there.
    site_mean_kpa : site -> (m,) mean pressure over its whole part of the band.
    mean_map_kpa : (n,) mean pressure over the draws.
    good : (m,) the mask found its place at all.
    held : (positions, m) share of the seal line that holds there; kept : (positions, m) it neither tips nor
        slides; closed : (positions, m) share that touches. Empty where not asked for.
    fit_factor, total_factor : (m,) overall factor of the exercises, leak only and with the filter.
    exercise_factors : (exercises, m) leak only.
    station_leak_l_min : (s,) mean while breathing normally.
    """

    p95_kpa: Floats
    peak_kpa: Floats
    mean_kpa: Floats
    contact_cm2: Floats
    site_kpa: dict[str, Floats]
    site_mean_kpa: dict[str, Floats]
    mean_map_kpa: Floats
    good: Bools
    held: Floats
    kept: Floats
    closed: Floats
    fit_factor: Floats
    total_factor: Floats
    exercise_factors: Floats
    station_leak_l_min: Floats

    @property
    def p95_median_kpa(self) -> float:
        """Median of ``p95_kpa`` over the draws that found a place; 0 where none did."""
        return float(np.median(self.p95_kpa[self.good])) if self.good.any() else 0.0

    @property
    def worst_cm2_kpa(self) -> Floats:
        """Highest mean (m,) over 1 cm2 on a bony site; zeros where the band passes none."""
        return np.asarray(np.max([np.zeros(len(self.good)), *self.site_kpa.values()], axis=0))

    @property
    def held_share(self) -> Floats:
        """Share of the draws (positions,) that hold in each head position."""
        return np.asarray((line_held(self.held) & self.kept.astype(bool)).mean(axis=1))

    @property
    def holds(self) -> Bools:
        """Draws (m,) in which every head position holds: in its place, and the whole line pressed."""
        return np.asarray((line_held(self.held) & self.kept.astype(bool)).all(axis=0))

    @property
    def stays(self) -> Bools:
        """Draws (m,) in which the mask keeps its place in every head position, sealed or not."""
        return np.asarray(self.kept.astype(bool).all(axis=0))

    def weakest_position(self) -> tuple[str, float]:
        """The head position that holds in the fewest draws, and their share."""
        holds = self.held_share
        number = int(holds.argmin())
        return POSITIONS[number].text, float(holds[number])


@dataclass(frozen=True)
class Quantile:
    """A quantile or share with the error that the number of draws leaves in it.

    Attributes
    ----------
    value : of all draws.
    error : standard deviation of it over resampled draws (bootstrap, Efron 1979).
    """

    value: float
    error: float


def quantile_of(values: Floats, share: float, seed: int = 1) -> Quantile:
    """A quantile with its bootstrap error."""
    random = np.random.default_rng(seed)
    again = values[random.integers(0, len(values), (_BOOTSTRAPS, len(values)))]
    return Quantile(float(np.quantile(values, share)), float(np.quantile(again, share, axis=1).std()))


def share_of(passed: Bools) -> Quantile:
    """A share with its standard error (binomial, the bootstrap's limit)."""
    share = float(np.mean(passed))
    return Quantile(share, float(np.sqrt(share * (1.0 - share) / len(passed))))


def around_points(patch: ContactPatch, area_cm2: float) -> csr_matrix:
    """Averages (n, n) of values over the part of the band in a disc round every point, by area.

    Near an edge only the part on the band counts: what presses there presses on less skin.
    """
    radius = float(np.sqrt(area_cm2 * 100.0 / np.pi))
    near = cKDTree(patch.points).query_ball_point(patch.points, radius)
    rows = np.repeat(np.arange(len(near)), [len(n) for n in near])
    columns = np.concatenate([np.asarray(n) for n in near])
    weight = csr_matrix((patch.areas[columns], (rows, columns)), shape=(len(near), len(near)))
    total = np.asarray(weight.sum(axis=1)).ravel()
    weight.data /= np.repeat(total, np.diff(weight.indptr))
    return weight.astype(np.float32)


def line_held(share: Floats) -> Bools:
    """Whether the whole line is held, from the share of it that is."""
    return np.asarray(share >= 1.0 - 1e-9)


def joined_states(parts: Sequence[WornStates]) -> WornStates:
    """Chunks of draws as one."""
    first = parts[0]
    return WornStates(
        np.concatenate([p.pressure_kpa for p in parts]),
        np.concatenate([p.around_kpa for p in parts]),
        np.concatenate([p.good for p in parts]),
        np.concatenate([p.motion for p in parts]),
        np.concatenate([p.p95_kpa for p in parts]),
        None,
        None
        if first.fit is None
        else (
            np.concatenate([p.fit[0] for p in parts if p.fit], axis=1),
            np.concatenate([p.fit[1] for p in parts if p.fit]),
        ),
        np.concatenate([p.penetration for p in parts]),
    )


def summed_up(states: WornStates, patch: ContactPatch, loop: Loop, contact: ContactSettings) -> Worn:
    """Values for each draw from its states."""
    pressure, none = states.pressure_kpa, np.zeros((0, len(states.good)))
    touching = pressure > 0.0
    area = touching @ patch.areas
    share, leak = states.fit if states.fit is not None else (none, np.zeros((1, len(loop.width_mm))))
    hold = states.hold if states.hold is not None else (none, none, none)
    through = share + (1.0 - share) * states.penetration if len(share) else share
    mix = mix_of(patch)
    main = mix.argmax(axis=1)
    sites = skin_sites()
    there = {site.site: main == i for i, site in enumerate(sites) if (main == i).any()}
    return Worn(
        p95_kpa=states.p95_kpa,
        peak_kpa=pressure.max(axis=1).astype(np.float64),
        mean_kpa=(pressure @ patch.areas) / np.maximum(area, 1e-9),
        contact_cm2=area / 100.0,
        site_kpa={
            site.site: states.around_kpa[:, there[site.site]].max(axis=1).astype(np.float64)
            for site in sites
            if site.bony and site.site in there
        },
        site_mean_kpa={
            name: (pressure[:, rows] @ patch.areas[rows]) / patch.areas[rows].sum()
            for name, rows in there.items()
        },
        mean_map_kpa=pressure[states.good].mean(axis=0).astype(np.float64)
        if states.good.any()
        else np.zeros(pressure.shape[1]),
        good=states.good,
        held=hold[0],
        kept=hold[1],
        closed=hold[2],
        fit_factor=_overall(share),
        total_factor=_overall(through),
        exercise_factors=1.0 / np.maximum(share, 1e-9),
        station_leak_l_min=leak.mean(axis=0),
    )


def _overall(share: Floats) -> Floats:
    """Overall factor (m,) of exercises (e, m): n over the sum of shares (29 CFR 1910.134 App A)."""
    return 1.0 / np.maximum(share.mean(axis=0), 1e-9) if len(share) else np.zeros(share.shape[1])


def area_quantiles(values: Singles, areas: Floats, share: float) -> Floats:
    """Value (m,) that a share of the area with values above zero stays at or below, in every row.

    Parameters
    ----------
    values : (m, n) not negative.
    """
    # Numbers above zero sort as their bits do; with their place behind them each is one number, which is
    # sorted many times as fast as places by values, and to the same order.
    bits = (values + np.float32(0.0)).view(np.uint32).astype(np.uint64)
    bits <<= np.uint64(32)
    bits |= np.arange(values.shape[1], dtype=np.uint64)
    bits.sort(axis=1)
    order = (bits & np.uint64(0xFFFFFFFF)).astype(np.intp)
    bits >>= np.uint64(32)
    weight = areas[order] * (bits > 0)
    filled = np.cumsum(weight, axis=1)
    index = (filled < (share * filled[:, -1] * (1.0 - 1e-12))[:, None]).sum(axis=1)
    index = np.minimum(index, values.shape[1] - 1)
    found = np.take_along_axis(bits, index[:, None], 1).astype(np.uint32).view(np.float32)
    return np.asarray(found[:, 0].astype(np.float64))
