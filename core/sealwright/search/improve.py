"""A search for designs that press less and hold no less; the maker picks from the trade-off.

Every design is a sketch (no solids), worn by the same drawn wearers, scans, prints and straps. The start and
those that are picked out in the end are designed in full and judged as their reports judge them: a pick is
one that no verdict refuses and that in full neither presses harder nor works less often than the start. The
search promises no optimum, and its numbers are those of a prediction: a pick must be fit-tested.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..designing.prepared import Prepared
from ..designing.sketch import sketch
from ..physics.prediction_settings import PredictionSettings
from ..predict.assumed import assumed_of
from ..predict.band import require_line
from ..progress import Job, Step, with_steps
from ..recipe import Recipe
from ..settings import check_settings
from .design_variables import design_variables_of, stepped, usual_keys
from .evaluator import Choice, DesignEvaluator, ImproveSettings
from .full_check import Examine, FullCheck, full_check
from .pareto import non_dominated
from .search import TradeOff, improve_steps

MOST_EXAMINED = 5
"""So many designs are made in full at most: the softest sketches may all fail, and each takes its time."""

HEAVIER_G = 5.0
"""By so much a better design may be heavier than the start; common practice, no source."""


@dataclass(frozen=True, eq=False)
class Improvement:
    """What a search found.

    Attributes
    ----------
    start : the recipe it began with; None where it cannot be worked out.
    front : designs that no other beats in pressure, in how often it works and in mass, by rising pressure.
    better : those of the front that press no harder than the start and work no less often, and are hardly
        heavier.
    picks : "softest" (least pressure among the better), "surest" (works most often) and "balanced" (least
        loss against the best in either), each examined in full where wanted; a name may be missing.
    start_check : the start in full; None where that was not wanted.
    tried : designs worked out; refused : code of the refusal -> how many.
    """

    start: Choice | None
    front: tuple[Choice, ...]
    better: tuple[Choice, ...]
    picks: dict[str, Choice]
    tried: int
    refused: dict[str, int]
    start_check: FullCheck | None = None


def improve_design_steps(
    prepared: Prepared,
    recipe: Recipe,
    settings: ImproveSettings | None = None,
    assumed: PredictionSettings | None = None,
    keys: Sequence[str] | None = None,
    examine: Examine | None = None,
) -> Job[Improvement]:
    """Search for better designs, as a job of steps.

    Parameters
    ----------
    prepared, recipe : the wearer, and the design to be improved.
    settings : length, seed.
    assumed : skin, straps, filter, as for a prediction; None takes the recipe's own section.
    keys : recipe keys to vary; None takes `design_variables.usual_keys`.
    examine : the whole examination of a design, see `full_check.full_check`.

    Raises
    ------
    DoesNotFit : a tube, or a design without lugs.
    BadRecipe : a setting out of range, or a key that cannot be varied.
    DesignError : the start has no seal line.
    """
    chosen, touch = settings or ImproveSettings(), assumed or assumed_of(recipe)
    check_settings(chosen, "improve")
    check_settings(touch, "recipe.prediction")
    yield Step(0.0, "Sketching the start")
    evaluator = DesignEvaluator(prepared, recipe, touch, chosen)
    under_chin = require_line(sketch(prepared, recipe, cache=evaluator.cache)).under_chin
    variables = design_variables_of(recipe, usual_keys(recipe, under_chin) if keys is None else keys)

    def evaluate(values: dict[str, float]) -> tuple[float, ...]:
        """Goals of a design with these values."""
        return evaluator.evaluate(stepped(variables, values)).goals

    found = yield from _searched(improve_steps(variables, evaluate, chosen.search))
    start = None if found.start is None else evaluator.confirmed(stepped(variables, found.start.values))
    seen: list[Choice] = [] if start is None else [start]
    for number, candidate in enumerate(found.front):
        yield Step(0.72 + 0.2 * number / len(found.front), "Confirming with fresh draws")
        values = stepped(variables, candidate.values)
        if start is None or values != start.values:
            seen.append(evaluator.confirmed(values))
    front = _front(seen)
    better = front if start is None else tuple(c for c in front if _beats(c, start))
    check, picks = None, {}
    if chosen.build_picks and start is not None:
        yield Step(0.92, "Designing the start in full")
        check = full_check(prepared, start.recipe, examine)
        picks = yield from _picks(better, lambda choice: _examined(prepared, choice, check, examine))
    elif not chosen.build_picks:
        picks = yield from _picks(better, lambda choice: choice)
    return Improvement(start, front, better, picks, found.tried, found.refused, check)


def _examined(
    prepared: Prepared, choice: Choice, start: FullCheck | None, examine: Examine | None
) -> Choice | None:
    """The choice with what its report says; None where that refuses it or it is worse than the start."""
    found = full_check(prepared, choice.recipe, examine)
    kept = start is not None and found.no_worse_than(start)
    return replace(choice, full=found) if kept else None


def _searched(steps: Generator[tuple[float, str], None, TradeOff]) -> Job[TradeOff]:
    """The search as steps of a job."""
    return with_steps(steps, lambda at: Step(0.02 + 0.7 * at[0], f"Trying {at[1]}"))


def _front(choices: Sequence[Choice]) -> tuple[Choice, ...]:
    """Choices that no other beats, by rising pressure."""
    goals = np.array([c.goals for c in choices]).reshape(-1, 3)
    kept = [c for c, best in zip(choices, non_dominated(goals), strict=True) if best]
    return tuple(sorted(kept, key=lambda c: c.goals))


def _beats(one: Choice, other: Choice) -> bool:
    """Whether a choice presses no harder and works no less often, is better in one of them, and no burden."""
    harder, worse, heavier = (a - b for a, b in zip(one.goals, other.goals, strict=True))
    return heavier <= HEAVIER_G and harder <= 0.0 and worse <= 0.0 and (harder < 0.0 or worse < 0.0)


def _picks(pool: Sequence[Choice], examined: Callable[[Choice], Choice | None]) -> Job[dict[str, Choice]]:
    """The softest, the surest and a balanced choice, of those that stand the examination."""
    least_kpa = min((c.numbers.pressure_kpa for c in pool), default=1.0)
    most = max((c.numbers.working for c in pool), default=1.0)
    orders: dict[str, Callable[[Choice], float]] = {
        "softest": lambda c: c.numbers.pressure_kpa,
        "surest": lambda c: -c.numbers.working,
        "balanced": lambda c: max(c.numbers.pressure_kpa / least_kpa - 1.0, most - c.numbers.working),
    }
    stood: dict[int, Choice | None] = {}
    picks: dict[str, Choice] = {}
    for number, (name, order) in enumerate(orders.items()):
        for choice in sorted(pool, key=order):
            if id(choice) not in stood:
                if len(stood) == MOST_EXAMINED:
                    continue
                yield Step(0.93 + 0.02 * number, f"Examining the {name} in full")
                stood[id(choice)] = examined(choice)
            pick = stood[id(choice)]
            if pick is not None:
                picks[name] = pick
                break
    return picks
