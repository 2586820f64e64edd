"""A seeded search for better designs with several goals at once; it gives the trade-off, the maker chooses.

An evolutionary search with fronts and crowding (NSGA-II, Deb et al. 2002, from memory), kept small: the
designs it is meant for take half a second each, so it has to do with some dozens of them. It promises
no optimum; it never loses the design it started from unless one that beats it has been found.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import BadRecipe, DesignError, Where
from ..mesh import Floats
from ..settings import check_settings, count, quantity
from .pareto import crowding_distance, non_dominated, ranks
from .variation import polynomial_mutation, simulated_binary_crossover, tournament

Evaluate = Callable[[dict[str, float]], Sequence[float]]
Ahead = Callable[[Sequence[dict[str, float]]], None]

TOGETHER = 4  # designs that may be worked out at once: few enough for progress to be seen


@dataclass(frozen=True)
class DesignVariable:
    """One value that may change.

    Attributes
    ----------
    name, unit : what it is.
    low, high : closed range.
    start : value of the design to be improved.
    """

    name: str
    unit: str
    low: float
    high: float
    start: float


@dataclass(frozen=True)
class SearchSettings:
    """How long and how widely is searched."""

    evaluations: int = count(64, 8, 100000, "Designs that are worked out at most.")
    group: int = count(16, 4, 1000, "Designs kept from one round to the next.")
    seed: int = count(1, 0, 2**31 - 1, "Seed: the same seed gives the same designs.")
    crossover_spread: float = quantity(
        15.0, "1", 1.0, 100.0, "How near children stay to their parents; larger is nearer (usual 15 to 20)."
    )
    mutation_spread: float = quantity(
        20.0, "1", 1.0, 100.0, "How near a changed value stays to the old one; larger is nearer (usual 20)."
    )


@dataclass(frozen=True)
class Candidate:
    """A design that was worked out.

    Attributes
    ----------
    values : name of the design variable -> value.
    goals : what the evaluation gave, small is good.
    """

    values: dict[str, float]
    goals: tuple[float, ...]


@dataclass(frozen=True)
class TradeOff:
    """The outcome of a search.

    Attributes
    ----------
    front : designs that no other one beats in every goal, by rising first goal.
    start : the design that was to be improved, None where it could not be worked out.
    better : those of the front that are nowhere worse than the start and somewhere better.
    tried : designs worked out, with the refused.
    refused : reason -> how many designs were refused for it.
    """

    front: tuple[Candidate, ...]
    start: Candidate | None
    better: tuple[Candidate, ...]
    tried: int
    refused: dict[str, int]


def improve_steps(
    variables: Sequence[DesignVariable],
    evaluate: Evaluate,
    settings: SearchSettings | None = None,
    ahead: Ahead | None = None,
) -> Generator[tuple[float, str], None, TradeOff]:
    """Search in steps, for a window that shows progress: yields (share done, text), returns the trade-off.

    Parameters
    ----------
    variables : what may change.
    evaluate : values by name -> goals, small is good. A `DesignError` from it is a design that cannot be.
    settings : length and seed of the search.
    ahead : hears some values that will be asked for next, in case they can be worked out together.

    Raises
    ------
    BadRecipe : no variable, a name twice, a range that is none, a start outside it, or a setting out of
        range.
    """
    chosen = settings or SearchSettings()
    check_settings(chosen, "search")
    _check_variables(variables)
    search = _Search(variables, evaluate, chosen)
    points = _first_points(variables, chosen)
    while search.tried < chosen.evaluations:
        for some in np.split(points, range(TOGETHER, len(points), TOGETHER)):
            some = some[: chosen.evaluations - search.tried]
            if ahead is not None:
                ahead([search.values_at(point, search.tried + i == 0) for i, point in enumerate(some)])
            for point in some:
                search.work_out(point)
                yield search.done, f"design {search.tried} of {chosen.evaluations}"
        if search.tried < chosen.evaluations:
            points = search.children()
    return search.outcome()


def _check_variables(variables: Sequence[DesignVariable]) -> None:
    names = [variable.name for variable in variables]
    if not names or len(set(names)) < len(names):
        raise BadRecipe(
            f"The search has the design variables {names}.",
            Where("search", key="variables"),
            "Give each name once.",
        )
    for v in variables:
        if not (
            np.isfinite([v.low, v.high, v.start]).all() and v.low < v.high and v.low <= v.start <= v.high
        ):
            raise BadRecipe(
                f"{v.name} starts at {v.start:g} in a range of {v.low:g} to {v.high:g} {v.unit}.",
                Where("search", key=v.name),
                "Give a low end below the high end, and a start between them.",
            )


def _first_points(variables: Sequence[DesignVariable], chosen: SearchSettings) -> Floats:
    """The start, and points spread evenly over every range (latin hypercube), in shares of the ranges."""
    start = np.array([(v.start - v.low) / (v.high - v.low) for v in variables])
    random = np.random.default_rng([chosen.seed, 0])
    rest = min(chosen.group, chosen.evaluations) - 1
    spread = [(random.permutation(rest) + random.random(rest)) / max(rest, 1) for _ in variables]
    return np.vstack([start, np.column_stack(spread)]) if rest > 0 else start[None, :]


class _Search:
    """Everything worked out so far, and the next points to try."""

    def __init__(
        self, variables: Sequence[DesignVariable], evaluate: Evaluate, chosen: SearchSettings
    ) -> None:
        self.variables, self.evaluate, self.chosen = variables, evaluate, chosen
        self.random = np.random.default_rng([chosen.seed, 1])
        self.points: list[Floats] = []
        self.found: list[Candidate] = []
        self.refused: dict[str, int] = {}
        self.start: Candidate | None = None
        self.tried = 0
        self.kept: list[int] = []
        self.seen = 0

    @property
    def done(self) -> float:
        """Share of the search that is done."""
        return min(1.0, self.tried / self.chosen.evaluations)

    def values_at(self, point: Floats, first: bool) -> dict[str, float]:
        """Values at a point (d,) in shares of the ranges; the first is the start itself."""
        return {
            v.name: v.start if first else float(v.low + share * (v.high - v.low))
            for v, share in zip(self.variables, point, strict=True)
        }

    def work_out(self, point: Floats) -> None:
        """Evaluate one point (d,) in shares of the ranges."""
        first, self.tried = self.tried == 0, self.tried + 1
        values = self.values_at(point, first)
        try:
            goals = tuple(float(goal) for goal in self.evaluate(values))
        except DesignError as error:
            self.refused[error.code] = self.refused.get(error.code, 0) + 1
            return
        if not np.isfinite(goals).all():
            self.refused["bad-numbers"] = self.refused.get("bad-numbers", 0) + 1
            return
        candidate = Candidate(values, goals)
        self.points.append(point)
        self.found.append(candidate)
        if first:
            self.start = candidate

    def children(self) -> Floats:
        """The next round (m, d): children of the designs kept, or fresh points while there are too few."""
        size, width = self.chosen.group, len(self.variables)
        if len(self.found) < 4:
            return self.random.random((size, width))
        self.kept = self._selected([*self.kept, *range(self.seen, len(self.found))])
        self.seen = len(self.found)
        parents = np.array([self.points[i] for i in self.kept])
        mothers, fathers = (parents[tournament(self.random, len(parents), size)] for _ in range(2))
        mixed = simulated_binary_crossover(self.random, mothers, fathers, self.chosen.crossover_spread)
        return polynomial_mutation(self.random, mixed, self.chosen.mutation_spread)

    def _selected(self, pool: list[int]) -> list[int]:
        """The best of a pool of designs: by front, then by room in it, then by age."""
        goals = np.array([self.found[i].goals for i in pool])
        rank = ranks(goals)
        room = np.zeros(len(goals))
        for front in np.unique(rank):
            room[rank == front] = crowding_distance(goals[rank == front])
        order = np.lexsort((np.arange(len(goals)), -room, rank))[: self.chosen.group]
        return [pool[i] for i in order]

    def outcome(self) -> TradeOff:
        """The trade-off of everything worked out."""
        if not self.found:
            return TradeOff((), None, (), self.tried, dict(sorted(self.refused.items())))
        goals = np.array([candidate.goals for candidate in self.found])
        kept = np.flatnonzero(non_dominated(goals))
        # Equal goals stay once; the order is by the goals and then by the order in which they were found.
        order = sorted(kept, key=lambda i: (self.found[i].goals, i))
        front = [self.found[i] for i in order]
        front = [c for n, c in enumerate(front) if n == 0 or c.goals != front[n - 1].goals]
        better = [] if self.start is None else [c for c in front if _beats(c.goals, self.start.goals)]
        return TradeOff(
            tuple(front), self.start, tuple(better), self.tried, dict(sorted(self.refused.items()))
        )


def _beats(first: tuple[float, ...], second: tuple[float, ...]) -> bool:
    return all(a <= b for a, b in zip(first, second, strict=True)) and first != second
