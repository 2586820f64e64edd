"""A search for designs that press less at no worse leak; the maker picks from the trade-off.

Every design is a sketch (no solids), balanced on the skin, and offered to the same few drawn errors of scan,
skin and tension. The start and those that are picked out in the end are designed in full and judged as their
reports judge them: a pick is one that no verdict refuses and that in full neither presses nor leaks more
than the
start. The search promises no optimum, and its numbers are those of a prediction: a pick must be fit-tested.
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


@dataclass(frozen=True, eq=False)
class Improvement:
    """What a search found.

    Attributes
    ----------
    start : the recipe it began with; None where it cannot be worked out.
    front : designs that no other beats in both pressure and leak, by rising peak pressure.
    better : those of the front that press less than the start and leak no more.
    picks : "softest" (least peak among the better), "tightest" (least leak among them) and "balanced" (least
        share above the best in either), each examined in full where wanted; a name may be missing.
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
    touch = replace(touch, fit=replace(touch.fit, samples=chosen.samples))
    yield Step(0.0, "Sketching the start")
    evaluator = DesignEvaluator(prepared, recipe, touch)
    under_chin = require_line(sketch(prepared, recipe, cache=evaluator.cache)).under_chin
    variables = design_variables_of(recipe, usual_keys(recipe, under_chin) if keys is None else keys)

    def evaluate(values: dict[str, float]) -> tuple[float, float]:
        """Peak pressure and leak of a design with these values."""
        choice = evaluator.evaluate(stepped(variables, values))
        return choice.peak_kpa, choice.leak_share

    found = yield from _searched(improve_steps(variables, evaluate, chosen.search))
    start = (
        None if found.start is None else evaluator.confirmed(stepped(variables, found.start.values), chosen)
    )
    seen: list[Choice] = [] if start is None else [start]
    for number, candidate in enumerate(found.front):
        yield Step(0.72 + 0.2 * number / len(found.front), "Confirming with fresh draws")
        values = stepped(variables, candidate.values)
        if start is None or values != start.values:
            seen.append(evaluator.confirmed(values, chosen))
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
    """Choices that no other beats, by rising peak pressure."""
    goals = np.array([(c.peak_kpa, c.leak_share) for c in choices]).reshape(-1, 2)
    kept = [c for c, best in zip(choices, non_dominated(goals), strict=True) if best]
    return tuple(sorted(kept, key=lambda c: (c.peak_kpa, c.leak_share)))


def _beats(one: Choice, other: Choice) -> bool:
    """Whether a choice presses less and leaks no more, or leaks less and presses no more."""
    peak, leak = one.peak_kpa - other.peak_kpa, one.leak_share - other.leak_share
    return peak <= 0.0 and leak <= 0.0 and (peak < 0.0 or leak < 0.0)


def _picks(pool: Sequence[Choice], examined: Callable[[Choice], Choice | None]) -> Job[dict[str, Choice]]:
    """The softest, the tightest and a balanced choice, of those that stand the examination."""
    peak = min((c.peak_kpa for c in pool), default=1.0)
    leak = min((c.leak_share for c in pool), default=1.0)
    orders: dict[str, Callable[[Choice], float]] = {
        "softest": lambda c: c.peak_kpa,
        "tightest": lambda c: c.leak_share,
        "balanced": lambda c: max(c.peak_kpa / peak, c.leak_share / leak),
    }
    stood: dict[int, Choice | None] = {}
    picks: dict[str, Choice] = {}
    for number, (name, order) in enumerate(orders.items()):
        for choice in sorted(pool, key=order):
            if id(choice) not in stood:
                yield Step(0.93 + 0.02 * number, f"Examining the {name} in full")
                stood[id(choice)] = examined(choice)
            pick = stood[id(choice)]
            if pick is not None:
                picks[name] = pick
                break
    return picks
