"""How well a shaped contact surface does on some draws, smoothly, with its slope: what offsets are chosen by.

The number is small where the highest mean over 1 cm2 is low and where no station of the seal line comes near
lifting off in the head positions. Highest and lowest are taken softly (power means, sums of exponentials),
so that the slope knows more than one point. It only leads the choice; what is told is counted afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from ..parallel import in_threads
from .batch import Springs as DrawnSprings
from .batch import balance, seat
from .chunk import Chunk
from .ensemble import Ensemble
from .exact_balance import Balance, Seat, Springs, back_through, back_to_gaps, balanced, seated, springs_of
from .foundation import KPA
from .statics import POSITIONS

_POWER = 12.0  # of the mean that stands for the highest pressure
_ACROSS, _ALONG = 4.0, 4.0  # how sharply the best point of a station, and the weakest station, are taken
_CALM = 2  # states at rest in which the line is to stay shut: breathing in, and talking
_AT_ONCE = 16  # draws that one thread works on


@dataclass(frozen=True)
class Weights:
    """What counts how much.

    Attributes
    ----------
    pressure_kpa, peak_kpa : highest mean over 1 cm2, and highest at a point, that cost 1.
    lift_kpa : by so much more or less pressure at its weakest station a draw goes from lifting to holding.
    opening : cost of a draw whose line opens while breathing in calmly or talking.
    slipping : cost of a draw whose line is not held in the head positions while breathing out.
    """

    pressure_kpa: float
    peak_kpa: float
    lift_kpa: float
    opening: float
    slipping: float


@dataclass(frozen=True, eq=False)
class _Stood:
    """What draws have to stand: load (m, 6), how far the skin leaves (m, n) mm, pressure asked (m,) kPa."""

    load: Floats
    opened_mm: Floats | float
    asked_kpa: Floats


class _Part:
    """Some draws in all states, each begun from where it was balanced last."""

    def __init__(self, ensemble: Ensemble, rows: slice, positions: Sequence[int]) -> None:
        whole = ensemble
        patch, none = whole.case.patch, np.zeros(len(whole.case.patch.points))
        chunk = Chunk(whole, rows, whole.contact.foundation.gasket, none)
        self.gap = chunk.springs.gap.astype(np.float64)
        self.springs: Springs = springs_of(
            patch, chunk.springs.normal.astype(np.float64), chunk.springs.shear.astype(np.float64)
        )
        self.normal = chunk.springs.normal.astype(np.float64) / KPA
        strap, case, moves = chunk.straps(whole.case.pulls), whole.case.filter, whole.settings.exercises
        out = case.gauge_pa("exhalation", whole.contact.breath_l_min, chunk.resistance)
        inwards = case.gauge_pa("inhalation", whole.settings.leak.flow_l_min, chunk.resistance)
        jaw = (moves.jaw_mm * np.abs(chunk.draws.jaw))[:, None] * whole.jaw_weight
        asked = 1e-3 * (np.maximum(out, 0.0) + whole.contact.seal_margin_pa)
        calm = chunk.load(POSITIONS[0].pull, inwards, strap)
        touching = np.zeros(len(strap))
        self.stood = [
            _Stood(chunk.load(POSITIONS[0].pull, 0.0, strap), 0.0, touching),
            _Stood(calm, 0.0, touching),
            _Stood(calm, jaw, touching),
            *(_Stood(chunk.load(POSITIONS[p].pull, out, strap), 0.0, asked) for p in positions),
        ]
        drawn: DrawnSprings = chunk.springs
        self.seat = seat(whole.band, drawn, self.stood[0].load)
        found = [balance(whole.band, drawn, one.load, self.seat, self.seat) for one in self.stood]
        self.motions = [one.motion for one in found]
        self.good = np.all([one.good for one in found], axis=0)

    def states(self, offset: Floats) -> tuple[Seat, list[Balance]]:
        """Seat and balances under an offset (n,)."""
        gap = self.gap + offset
        seat = seated(self.springs, gap, self.stood[0].load, self.seat)
        anchor = seat.state.motion
        found = [
            balanced(self.springs, gap + one.opened_mm, one.load, anchor, start)
            for one, start in zip(self.stood, self.motions, strict=True)
        ]
        self.seat, self.motions = anchor, [one.motion for one in found]
        return seat, found


class EvenPressure:
    """The number and its slope for offsets of one case.

    Parameters
    ----------
    ensemble : the draws that offsets are chosen on, under the straps they are chosen for.
    positions : numbers of the head positions that count.
    weights : of its terms.
    """

    def __init__(self, ensemble: Ensemble, positions: Sequence[int], weights: Weights) -> None:
        self.ensemble, self.weights = ensemble, weights
        count = ensemble.draws.count
        rows = [slice(i, min(i + _AT_ONCE, count)) for i in range(0, count, _AT_ONCE)]
        _ = ensemble.air_row, ensemble.around, ensemble.loop
        self._parts = list(in_threads(lambda part: _Part(ensemble, part, positions), rows))
        self._good = max(sum(int(part.good.sum()) for part in self._parts), 1)

    def at(self, offset: Floats) -> tuple[float, Floats]:
        """The number, and its slope (n,) per mm, at an offset (n,) mm of every point."""
        found = list(in_threads(lambda part: self._of(part, offset), self._parts))
        return sum(value for value, _ in found), np.asarray(sum(slope for _, slope in found))

    def _of(self, part: _Part, offset: Floats) -> tuple[float, Floats]:
        seat, states = part.states(offset)
        share = part.good / self._good
        value, slope = self._pressure(part, states[0])
        total, owed = float(share @ value), np.zeros((len(share), 6))
        gaps, anchor = back_through(part.springs, states[0], share[:, None] * slope)
        owed += anchor
        chosen, positions = self.weights, len(states) - _CALM - 1
        costs = [chosen.opening / _CALM] * _CALM + [chosen.slipping / max(positions, 1)] * positions
        for state, stood, cost in zip(states[1:], part.stood[1:], costs, strict=True):
            value, slope = self._lifting(part, state, stood.asked_kpa)
            part_of = cost * share
            total += float(part_of @ value)
            more, anchor = back_through(part.springs, state, part_of[:, None] * slope)
            gaps, owed = gaps + more, owed + anchor
        return total, (gaps + back_to_gaps(seat, owed)).sum(axis=0)

    def _pressure(self, part: _Part, state: Balance) -> tuple[Floats, Floats]:
        """Cost (m,) of the pressure at rest, and its slope (m, n) with the gaps."""
        around, areas, weights = self.ensemble.around, self.ensemble.case.patch.areas, self.weights
        pressure = -part.normal * np.minimum(state.gap, 0.0)
        share = areas / areas.sum()
        means, of_means = _soft_highest((around @ pressure.T).T, share)
        points, of_points = _soft_highest(pressure, share)
        slope = (around.T @ of_means.T).T / weights.pressure_kpa + of_points / weights.peak_kpa
        value = means / weights.pressure_kpa + points / weights.peak_kpa
        return value, slope * np.where(state.gap < 0.0, -part.normal, 0.0)

    def _lifting(self, part: _Part, state: Balance, asked_kpa: Floats) -> tuple[Floats, Floats]:
        """Cost (m,) of the weakest station, and its slope (m, n) with the gaps.

        Open points count with the pressure that they lack, so that the slope knows which way to close them.
        """
        loop, scale = self.ensemble.loop, self.weights.lift_kpa
        spare = loop.sorted_rows(-part.normal * state.gap - asked_kpa[:, None]) / scale
        best = np.maximum.reduceat(spare, loop.starts, axis=1)
        counts = np.diff(np.r_[loop.starts, spare.shape[1]])
        near = np.exp(_ACROSS * (spare - np.repeat(best, counts, axis=1)))
        total = np.add.reduceat(near, loop.starts, axis=1)
        station = best + np.log(total) / _ACROSS
        worst = station.min(axis=1, keepdims=True)
        weak = np.exp(-_ALONG * (station - worst))
        least = worst[:, 0] - np.log(weak.sum(axis=1)) / _ALONG
        fails = 1.0 / (1.0 + np.exp(np.clip(least, -30.0, 30.0)))
        slope_least = -fails * (1.0 - fails)
        of_station = weak / weak.sum(axis=1, keepdims=True) * slope_least[:, None]
        of_point = near / np.repeat(total, counts, axis=1) * np.repeat(of_station, counts, axis=1)
        slope = np.empty_like(of_point)
        slope[:, loop.order] = of_point
        return fails, -slope * part.normal / scale


def _soft_highest(values: Floats, share: Floats) -> tuple[Floats, Floats]:
    """Power mean (m,) that stands for the highest of values (m, n), not negative, and its slope (m, n)."""
    top = np.maximum(values.max(axis=1, keepdims=True), 1e-9)
    part = values / top
    size = part**_POWER @ share
    slope = part ** (_POWER - 1.0) * share * (size ** (1.0 / _POWER - 1.0))[:, None]
    return top[:, 0] * size ** (1.0 / _POWER), slope
