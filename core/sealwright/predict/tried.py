"""What would change a design, tried: the design, remedies and the bare band as sketches on common draws.

The masks are sketched and worn as a prediction does it, with fewer draws: the same draws for all of them,
so that two rows differ by what differs between the masks. A remedy is advice only where it brings a missed
target nearer by more than the draws leave unsure, and harms no other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ..cushion.settings import KINDS, CushionSettings
from ..designing.design import Design
from ..designing.sketch import sketch
from ..errors import BadRecipe, DesignError
from ..limits import limit
from ..physics.ensemble import Ensemble
from ..physics.worn import Worn
from ..progress import Job, Step
from ..recipe import BARE, Recipe, bare_of, with_values
from ..settings import check_settings
from ..stage_cache import StageCache
from .assumed import with_cushion
from .result import Prediction
from .targets import HOLDING, PRESSURE, REACHING, SURE, TARGETS, errors_between, numbers_of
from .worn_case import worn_case

DRAWS = 256
THICKER_MM, WIDER_MM, PULL_N = (2.0, 4.0), 3.0, 1.0


@dataclass(frozen=True)
class Remedy:
    """A change of the recipe: in words, and its values by dotted key."""

    what: str
    values: Mapping[str, float | str]


@dataclass(frozen=True, kw_only=True)
class TriedRow:
    """One mask that was sketched and worn.

    Attributes
    ----------
    role : "design", "remedy" or "bare".
    what : what it is, or what to do, in words.
    values : the recipe keys that were changed.
    numbers : by the key of the target.
    helps : keys of the missed targets that it surely brings nearer.
    """

    role: str
    what: str
    values: Mapping[str, float | str]
    numbers: Mapping[str, float]
    helps: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Tried:
    """What was tried on a wearer.

    Attributes
    ----------
    rows : the design first, then the remedies that help, best first, then the bare band.
    missed : keys of the targets that the prediction misses.
    remedies : how many remedies were worn, with those that do not help.
    not_worn : what could not be built on this wearer, or finds no hold, in words.
    draws : worn by each.
    """

    rows: tuple[TriedRow, ...]
    missed: tuple[str, ...]
    remedies: int
    not_worn: tuple[str, ...]
    draws: int

    @property
    def design(self) -> TriedRow:
        """The sketch of the design itself."""
        return self.rows[0]

    def best_for(self, key: str) -> TriedRow | None:
        """The best remedy of those that bring a target nearer; None where none does."""
        return next((row for row in self.rows if key in row.helps), None)


def missed_by(prediction: Prediction) -> tuple[str, ...]:
    """Keys of the targets that a prediction misses, by its draws or by the verdict of its report."""
    found, comfort, fit = prediction.summary, prediction.comfort, prediction.fit
    if found is None or comfort is None or fit is None:
        return ()
    worst = {
        PRESSURE: max(found.pressure_p95_kpa, comfort.high_kpa),
        # 5 % of the draws stay below the first quantile: the verdict's way to say the same share.
        REACHING: found.share_reaching_100 if fit.quantiles[0] >= limit("fit_factor").value else 0.0,
        HOLDING: found.share_holding,
    }
    return tuple(target.key for target, value in worst.items() if target.short(value) > 0.0)


def remedies_of(recipe: Recipe, pull_n: float, least_n: float) -> list[Remedy]:
    """A handful of changes that may help, each within the ranges of the recipe.

    Parameters
    ----------
    recipe : of the design.
    pull_n : on each of its straps.
    least_n : sum of the pulls that no strap is loosened below.
    """
    count, pull = recipe.straps.lug.count, round(pull_n, 1)
    softer = _softer(recipe.cushion)
    wide, slack = recipe.band.width_mm + WIDER_MM, pull - PULL_N
    tight = min(pull + PULL_N, limit("strap_sum_high").value / max(count, 1))
    wider = Remedy(f"band {wide:g} mm wide", {"band.width_mm": wide})
    both = _joined(softer[0], wider)
    asked = [*softer, wider, both]
    if slack * count >= least_n:
        asked.append(Remedy(f"{slack:g} N of pull on each strap", {"straps.tension_n": slack}))
    if tight > pull:
        tighter = Remedy(f"{tight:g} N of pull on each strap", {"straps.tension_n": tight})
        asked += [tighter, _joined(both, tighter)]
    return [remedy for remedy in asked if _within_ranges(with_values(recipe, remedy.values))]


def _softer(cushion: CushionSettings) -> list[Remedy]:
    """A thicker cushion, in two steps; the usual one where there is none."""
    if cushion.kind == "none":
        usual = CushionSettings()
        values: dict[str, float | str] = {
            "cushion.kind": usual.kind,
            "cushion.thickness_mm": usual.thickness_mm,
        }
        return [Remedy(f"{KINDS[usual.kind]} {usual.thickness_mm:g} mm thick", values)]
    thick = [cushion.thickness_mm + more for more in THICKER_MM]
    return [Remedy(f"{KINDS[cushion.kind]} {t:g} mm thick", {"cushion.thickness_mm": t}) for t in thick]


def _joined(one: Remedy, other: Remedy) -> Remedy:
    return Remedy(f"{one.what}, {other.what}", {**one.values, **other.values})


def _within_ranges(recipe: Recipe) -> bool:
    try:
        check_settings(recipe)
    except BadRecipe:
        return False
    return True


def tried_steps(design: Design, prediction: Prediction, draws: int = DRAWS) -> Job[Tried | None]:
    """Wear the design, remedies for what it misses, and the bare band, each as a sketch.

    Parameters
    ----------
    design, prediction : a body and what is expected of it.
    draws : worn by each, at most those of the prediction.

    Returns
    -------
    None where the mask finds no hold: there is nothing to compare with.
    """
    missed, recipe, pull_n = missed_by(prediction), design.recipe, prediction.pull_n
    if pull_n > 0.0:
        # All masks are pulled like this one, and share the pull as the settings of its prediction say.
        recipe = with_values(recipe, {"straps.tension_n": pull_n})
    count = min(draws, prediction.settings.fit.samples)
    yield Step(0.0, "Trying what would change it")
    trial = _Trial(design, prediction, count)
    start = trial.worn(recipe) if prediction.summary is not None else None
    if start is None:
        return None
    asked = remedies_of(recipe, pull_n, prediction.lift_off_n) if missed else []
    rows, not_worn = list[TriedRow](), list[str]()
    for number, remedy in enumerate(asked, start=1):
        yield Step(number / (len(asked) + 2), f"Trying: {remedy.what}")
        worn = trial.worn(with_values(recipe, remedy.values))
        if worn is None:
            not_worn.append(remedy.what)
        elif helps := _helps(start, worn, missed):
            rows.append(_row("remedy", remedy, worn, helps))
    numbers = numbers_of(start)
    rows.sort(key=lambda row: -_gain(numbers, row.numbers, missed))
    rows.insert(0, _row("design", Remedy("this design", {}), start))
    yield Step(0.9, "Trying: the bare rigid band")
    bare = bare_of(recipe)
    worn = trial.worn(bare) if bare != recipe else None
    if worn is not None:
        rows.append(_row("bare", Remedy("bare rigid band, to compare", BARE), worn))
    run = len(asked) - len(not_worn)
    return Tried(rows=tuple(rows), missed=missed, remedies=run, not_worn=tuple(not_worn), draws=count)


def _row(role: str, remedy: Remedy, worn: Worn, helps: tuple[str, ...] = ()) -> TriedRow:
    return TriedRow(role=role, what=remedy.what, values=remedy.values, numbers=numbers_of(worn), helps=helps)


class _Trial:
    """A wearer on whom one mask after the other is sketched and worn, all on the same draws."""

    def __init__(self, design: Design, prediction: Prediction, draws: int) -> None:
        self.design, self.cache = design, StageCache()
        self.assumed, self.draws = prediction.settings, draws

    def worn(self, recipe: Recipe) -> Worn | None:
        """A recipe on all draws; None where it cannot be built or finds no hold."""
        assumed = with_cushion(self.assumed, recipe.cushion)
        assumed = replace(assumed, fit=replace(assumed.fit, samples=self.draws))
        surface = self.design.surface if recipe.contact_surface.shaped else None
        try:
            made = self.design
            laid = sketch(made.prepared, recipe, made.seal_points, self.cache, surface, made.form)
            worn = Ensemble(worn_case(laid, assumed), assumed.contact, assumed.fit).worn()
        except DesignError:
            return None
        return worn if worn.good.any() else None


def _helps(start: Worn, worn: Worn, missed: Sequence[str]) -> tuple[str, ...]:
    """Keys of the missed targets that a remedy surely brings nearer; none where it harms any target."""
    before, after, better = numbers_of(start), numbers_of(worn), list[str]()
    unsure = {key: SURE * error for key, error in errors_between(start, worn).items()}
    for target in TARGETS:
        key = target.key
        was, now = target.short(before[key]), target.short(after[key])
        sure = abs(after[key] - before[key]) > unsure[key]
        if now > was and (sure or was == 0.0):
            return ()
        if now < was and sure and key in missed:
            better.append(key)
    return tuple(better)


def _gain(before: Mapping[str, float], after: Mapping[str, float], missed: Sequence[str]) -> float:
    """By how much the missed targets come nearer, each as a share of its limit; past it nothing counts."""
    return sum(t.short(before[t.key]) - t.short(after[t.key]) for t in TARGETS if t.key in missed)
