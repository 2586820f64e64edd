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

from ..designing.context import ChamberForm
from ..designing.prepared import Prepared
from ..designing.sketch import sketch
from ..physics.prediction_settings import PredictionSettings
from ..predict.assumed import assumed_of
from ..predict.band import require_line
from ..predict.designed import chosen_surface
from ..progress import Job, Step, with_steps
from ..recipe import Recipe, with_values
from ..settings import check_settings
from .design_variables import SHAPED, design_variables_of, stepped, usual_keys
from .evaluator import Choice, DesignEvaluator, ImproveSettings, Refusal, Shared, Worked
from .full_check import Examine, FullCheck
from .pareto import non_dominated
from .search import TOGETHER, DesignVariable, TradeOff, improve_steps
from .workers import Workers

MOST_EXAMINED = 7
"""So many designs, the start among them, are made in full at most: the softest sketches may all fail, and
each takes its time."""

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
    form: ChamberForm | None = None,
) -> Job[Improvement]:
    """Search for better designs, as a job of steps.

    Parameters
    ----------
    prepared, recipe : the wearer, and the design to be improved.
    settings : length, seed.
    assumed : skin, straps, filter, as for a prediction; None takes the recipe's own section.
    keys : recipe keys to vary; None takes `design_variables.usual_keys`.
    examine : the whole examination of a design, see `full_check.full_check`.
    form : the maker's outer form of the chamber, which all designs keep; None lets the program choose.

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
    under_chin = require_line(sketch(prepared, recipe, form=form)).under_chin
    keys = usual_keys(recipe, under_chin) if keys is None else keys
    variables, surface = design_variables_of(recipe, keys), None
    if SHAPED in keys:
        # With other assumptions than the recipe's it is still a surface to try; picks have their own.
        shaping = chosen_surface(prepared, with_values(recipe, {SHAPED: False}), form=form)
        surface = yield from with_steps(shaping, lambda step: Step(0.05 * step.fraction, step.label))
        if len(keys) > 1:  # the other surface is tried on what the rest of the search finds
            variables = [one for one in variables if one.name != SHAPED]
    shared = Shared(form, surface if surface is not None and surface.kept else None)
    workers = Workers(prepared, recipe, touch, chosen, shared)
    try:
        found = yield from _improved(workers, variables, chosen, examine)
    except BaseException:  # stopped: nobody works on
        workers.stop()
        raise
    workers.close()
    return found


def _improved(
    workers: Workers, variables: Sequence[DesignVariable], chosen: ImproveSettings, examine: Examine | None
) -> Job[Improvement]:
    """The search, the other contact surface and fresh draws for what it found, and the picks in full."""
    known: dict[tuple[float, ...], Worked | Refusal] = {}
    evaluator = workers.evaluator
    switch = evaluator.shared.surface is not None and all(one.name != SHAPED for one in variables)
    also = {SHAPED: evaluator.recipe.contact_surface.shaped} if switch else {}

    def at(values: dict[str, float]) -> dict[str, float]:
        """Values in whole steps, with those that this part of the search leaves alone."""
        return {**stepped(variables, values), **also}

    def ahead(asked: Sequence[dict[str, float]]) -> None:
        """Work out designs with these values together."""
        wanted = [at(values) for values in asked]
        new = {key: v for v in wanted if (key := tuple(v.values())) not in known}
        known.update(zip(new, workers.each(DesignEvaluator.worked_out, list(new.values())), strict=True))

    def worked(values: dict[str, float]) -> Worked:
        """A design that was worked out."""
        found = known[tuple(at(values).values())]
        if isinstance(found, Refusal):
            raise found.error()
        return found

    steps = improve_steps(variables, lambda values: worked(values)[0].goals, chosen.search, ahead)
    found = yield from _searched(steps)
    first = [] if found.start is None else [found.start.values]
    rest = [worked(c.values) for c in found.front]
    if switch:
        rest += yield from _with_other_surface(workers, rest)
    asked = [
        *map(worked, first),
        *(w for w in rest if not first or w[0].values != worked(first[0])[0].values),
    ]
    seen = yield from _confirmed(workers, asked)
    start = seen[0] if first else None
    front = _front(seen)
    better = front if start is None else tuple(c for c in front if _beats(c, start))
    check, picks = None, _chosen(better, lambda choice: choice) if not chosen.build_picks else {}
    if chosen.build_picks and start is not None:
        check, picks = yield from _examined_picks(workers, start, better, examine)
    tried = found.tried + (len(found.front) if switch else 0)
    return Improvement(start, front, better, picks, tried, found.refused, check)


def _with_other_surface(workers: Workers, designs: Sequence[Worked]) -> Job[list[Worked]]:
    """The same designs with a shaped surface where theirs is even, and the other way round."""
    turned = [{**choice.values, SHAPED: not choice.values[SHAPED]} for choice, _ in designs]
    found = list[Worked | Refusal]()
    for number in range(0, len(turned), TOGETHER):
        yield Step(0.65 + 0.06 * number / len(turned), "Trying the other contact surface")
        found += workers.each(DesignEvaluator.worked_out, turned[number : number + TOGETHER])
    return [one for one in found if not isinstance(one, Refusal)]


def _confirmed(workers: Workers, asked: Sequence[Worked]) -> Job[list[Choice]]:
    """Choices on fresh draws."""
    seen = list[Choice]()
    for number in range(0, len(asked), TOGETHER):
        yield Step(0.72 + 0.2 * number / len(asked), "Confirming with fresh draws")
        for choice in workers.each(DesignEvaluator.confirmed, asked[number : number + TOGETHER]):
            if isinstance(choice, Refusal):
                raise choice.error()
            seen.append(choice)
    return seen


def _searched(steps: Generator[tuple[float, str], None, TradeOff]) -> Job[TradeOff]:
    """The search as steps of a job."""
    return with_steps(steps, lambda at: Step(0.05 + 0.6 * at[0], f"Trying {at[1]}"))


def _front(choices: Sequence[Choice]) -> tuple[Choice, ...]:
    """Choices that no other beats, by rising pressure."""
    goals = np.array([c.goals for c in choices]).reshape(-1, 3)
    kept = [c for c, best in zip(choices, non_dominated(goals), strict=True) if best]
    return tuple(sorted(kept, key=lambda c: c.goals))


def _beats(one: Choice, other: Choice) -> bool:
    """Whether a choice presses no harder and works no less often, is better in one of them, and no burden."""
    harder, worse, heavier = (a - b for a, b in zip(one.goals, other.goals, strict=True))
    return heavier <= HEAVIER_G and harder <= 0.0 and worse <= 0.0 and (harder < 0.0 or worse < 0.0)


_ORDERS = ("softest", "surest", "balanced")


def _ordered(pool: Sequence[Choice]) -> dict[str, list[Choice]]:
    """Choices by how well they suit each name of a pick."""
    least_kpa = min((c.numbers.pressure_kpa for c in pool), default=1.0)
    most = max((c.numbers.working for c in pool), default=1.0)
    orders: tuple[Callable[[Choice], float], ...] = (
        lambda c: c.numbers.pressure_kpa,
        lambda c: -c.numbers.working,
        lambda c: max(c.numbers.pressure_kpa / least_kpa - 1.0, most - c.numbers.working),
    )
    return {name: sorted(pool, key=order) for name, order in zip(_ORDERS, orders, strict=True)}


def _chosen(pool: Sequence[Choice], stood: Callable[[Choice], Choice | None]) -> dict[str, Choice]:
    """The softest, the surest and a balanced choice, of those that stand the examination."""
    picks: dict[str, Choice] = {}
    for name, choices in _ordered(pool).items():
        pick = next((found for choice in choices if (found := stood(choice)) is not None), None)
        if pick is not None:
            picks[name] = pick
    return picks


def _examined_picks(
    workers: Workers, start: Choice, pool: Sequence[Choice], examine: Examine | None
) -> Job[tuple[FullCheck, dict[str, Choice]]]:
    """The start in full, and the picks: round by round the best of each name that was not examined yet."""
    checks: dict[int, FullCheck] = {}

    def stood(choice: Choice) -> Choice | None:
        """The choice with what its report says; None where that refuses it or it is worse than the start."""
        found = checks.get(id(choice))
        kept = found is not None and found.no_worse_than(checks[id(start)])
        return replace(choice, full=found) if kept else None

    todo = [start]
    while True:
        if id(start) in checks:
            open_ = [c for name, c in _ordered(pool).items() if name not in _chosen(pool, stood)]
            nexts = [next((c for c in choices if id(c) not in checks), None) for choices in open_]
        else:
            nexts = [choices[0] if choices else None for choices in _ordered(pool).values()]
        todo += [c for i, c in enumerate(nexts) if c is not None and c not in nexts[:i]]
        todo = todo[: MOST_EXAMINED - len(checks)]
        if not todo:
            return checks[id(start)], _chosen(pool, stood)
        yield Step(0.92 + 0.07 * len(checks) / MOST_EXAMINED, "Designing start and picks in full")
        found = workers.each(DesignEvaluator.in_full, [(c.recipe, examine) for c in todo])
        checks.update({id(c): check for c, check in zip(todo, found, strict=True)})
        todo = []
