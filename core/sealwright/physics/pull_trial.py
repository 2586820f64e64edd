"""One design under one set of straps on every draw, worked out only as far as it is asked."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from ..mesh import Bools, Floats
from ..parallel import in_threads
from .chunk import Chunk, Held, Rest
from .statics import POSITIONS
from .worn import Worn, WornStates, area_quantiles, joined_states, line_held, summed_up

if TYPE_CHECKING:
    from .ensemble import Ensemble

Aim: TypeAlias = Literal["hold", "stay"]
"""In place with the whole line pressed in every head position, or in place, sealed or not."""


class PullTrial:
    """Straps on all draws of an ensemble; rest, head positions and fit test are worked out when needed.

    A draw that fails in one head position is not asked in the others, unless all is wanted.
    """

    def __init__(self, ensemble: Ensemble, chunks: Sequence[Chunk], near: PullTrial | None = None) -> None:
        self.ensemble, self._chunks, self._near = ensemble, chunks, near
        ends = np.cumsum([0] + [chunk.count for chunk in chunks])
        self._rows = [slice(a, b) for a, b in pairwise(ends)]
        self._asked = _Asked.nothing(int(ends[-1]))
        self._order = list(range(len(POSITIONS))) if near is None else near.hardest_first()

    @cached_property
    def _rests(self) -> list[Rest]:
        pulls = self.ensemble.case.pulls
        near = [None] * len(self._chunks) if self._near is None else self._near._rests
        self._near = None  # it was needed for the start only
        return list(
            in_threads(lambda both: both[0].rest(pulls, both[1]), zip(self._chunks, near, strict=True))
        )

    @cached_property
    def _good(self) -> Bools:
        return np.concatenate([rest.good for rest in self._rests])

    @cached_property
    def p95_median_kpa(self) -> float:
        """Median of the pressure that 95 % of the skin stay below; 0 where no draw finds a place."""
        both = zip(self._chunks, self._rests, strict=True)
        p95 = np.concatenate(list(in_threads(lambda part: part[0].p95_kpa(part[1]), both)))
        return float(np.median(p95[self._good])) if self._good.any() else 0.0

    def share(self, aim: Aim) -> float:
        """Share of the draws that hold, or stay."""
        return float(self._passing(aim, None).mean())

    def reaches(self, aim: Aim, wanted: float) -> bool:
        """Whether a share of the draws holds, or stays."""
        return float(self._passing(aim, wanted).mean()) >= wanted

    def hardest_first(self) -> list[int]:
        """Head positions by how many draws failed in them."""
        failed = [int((self._asked.known[p] & ~self._asked.passed("hold")[p]).sum()) for p in self._order]
        return [self._order[i] for i in np.argsort(failed, kind="stable")[::-1]]

    def _passing(self, aim: Aim, wanted: float | None) -> Bools:
        """Draws that pass; fewer than wanted as soon as that is sure."""
        alive = self._good.copy()
        known, passed = self._asked.known, self._asked.passed(aim)
        alive &= (passed | ~known).all(axis=0)
        for position in self._order:
            if wanted is not None and alive.mean() < wanted:
                break
            self._ask(position, alive)
            alive &= self._asked.passed(aim)[position]
        return alive

    def _ask(self, position: int, draws: Bools) -> None:
        """Work out one head position for those of some draws that were not asked yet."""
        todo = draws & ~self._asked.known[position]
        if not todo.any():
            return
        parts = [
            part for part in zip(self._chunks, self._rests, self._rows, strict=True) if todo[part[2]].any()
        ]
        found = in_threads(lambda part: part[0].held(part[1], position, todo[part[2]]), parts)
        self._asked.note(position, todo, list(found))

    def worn_steps(self, states: str = "all") -> Generator[float, None, Worn]:
        """All that is known of the draws, in steps that yield the share done.

        Parameters
        ----------
        states : "all", "hold" (head positions only) or "seal" (pressure and fit test only).
        """
        if states in ("all", "hold"):
            for number, position in enumerate(self._order):
                self._ask(position, np.ones(len(self._good), dtype=bool))
                yield 0.5 * (number + 1) / len(self._order)
        fit = states in ("all", "seal")
        parts: list[WornStates] = []
        work = in_threads(lambda part: self._states(*part, fit), zip(self._chunks, self._rests, strict=True))
        for part in work:
            parts.append(part)
            yield 0.5 + 0.5 * len(parts) / len(self._chunks)
        whole = joined_states(parts)
        if states in ("all", "hold"):
            whole = replace(whole, hold=self._asked.as_hold())
        case = self.ensemble.case
        return summed_up(whole, case.patch, self.ensemble.loop, self.ensemble.contact)

    def _states(self, chunk: Chunk, rest: Rest, fit: bool) -> WornStates:
        """The states of one chunk but for its head positions."""
        whole, pressure = self.ensemble, chunk.pressure_kpa(rest)
        return WornStates(
            pressure_kpa=pressure,
            around_kpa=(whole.around @ pressure.T).T,
            good=rest.good,
            motion=rest.motion,
            p95_kpa=area_quantiles(pressure, whole.case.patch.areas, 0.95),
            hold=None,
            fit=chunk.fit_test(rest, whole.case.pulls) if fit else None,
            penetration=whole.case.filter.penetrations(
                chunk.draws.penetration, whole.settings.leak.flow_l_min
            ),
        )


@dataclass(frozen=True, eq=False)
class _Asked:
    """What is known of the head positions, each array (positions, m): as `chunk.Held`, where ``known``."""

    known: Bools
    held: Floats
    kept: Bools
    closed: Floats

    @classmethod
    def nothing(cls, draws: int) -> _Asked:
        """Nothing is known yet."""
        shape = (len(POSITIONS), draws)
        return cls(np.zeros(shape, bool), np.zeros(shape), np.zeros(shape, bool), np.zeros(shape))

    def note(self, position: int, draws: Bools, found: Sequence[Held]) -> None:
        """Write down what was found for some draws, in their order."""
        self.held[position, draws] = np.concatenate([held.held for held in found])
        self.kept[position, draws] = np.concatenate([held.kept for held in found])
        self.closed[position, draws] = np.concatenate([held.closed for held in found])
        self.known[position, draws] = True

    def passed(self, aim: Aim) -> Bools:
        """Draws that pass, (positions, m)."""
        return np.asarray(self.kept & line_held(self.held)) if aim == "hold" else self.kept

    def as_hold(self) -> tuple[Floats, Floats, Floats]:
        """As `worn.WornStates.hold`."""
        return self.held, self.kept.astype(np.float64), self.closed
