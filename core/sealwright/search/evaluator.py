"""One design of a search: what it is, and its goals: pressure, how often it works, mass."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

from ..designing.context import ChamberForm
from ..designing.prepared import Prepared
from ..designing.shaped_surface import ShapedSurface
from ..designing.sketch import sketch
from ..errors import DesignError, NotConverged, Where
from ..limits import limit
from ..physics.draws import Draws, make_draws
from ..physics.ensemble import Ensemble, WornCase
from ..physics.fit_settings import FitSettings
from ..physics.prediction_settings import PredictionSettings
from ..physics.worn import Worn
from ..predict.assumed import with_cushion
from ..predict.band import require_line
from ..predict.worn_case import worn_case
from ..recipe import Recipe, with_values
from ..settings import count, section, switch
from ..stage_cache import StageCache
from .full_check import Examine, FullCheck, full_check, share_working
from .search import SearchSettings


@dataclass(frozen=True)
class ImproveSettings:
    """How better designs are searched."""

    search: SearchSettings = section(SearchSettings, "Length and seed of the search.")
    samples: int = count(
        96,
        8,
        1024,
        "Drawn wearers, scans, prints and straps that each design is offered to; the same for all.",
    )
    confirm_samples: int = count(
        256, 8, 4096, "Fresh draws that what is found, and the start, are offered to in the end."
    )
    workers: int = count(1, 1, 64, "Processes at a time; the results are the same on any number.")
    build_picks: bool = switch(
        True, "Design what is picked out in full and judge it as its report does; a quarter minute for each."
    )


@dataclass(frozen=True)
class Numbers:
    """What the draws make of a design.

    Attributes
    ----------
    pressure_kpa : median of the pressure that 95 % of the touching skin stay below.
    working : share that holds in every head position and reaches the fit factor asked for.
    holding, reaching : the two of them apart.
    """

    pressure_kpa: float
    working: float
    holding: float
    reaching: float


@dataclass(frozen=True, eq=False)
class Choice:
    """A design of the trade-off.

    Attributes
    ----------
    values : the values that were varied, by recipe key.
    recipe : the whole recipe.
    numbers : what the draws make of it.
    mass_g : of everything that hangs on the face, printed solid.
    chamber_ml : air between face and body, without bore and holder.
    seal_line_mm : length of the seal line.
    full : what its report says; None where it was not designed in full.
    """

    values: dict[str, float]
    recipe: Recipe
    numbers: Numbers
    mass_g: float
    chamber_ml: float
    seal_line_mm: float
    full: FullCheck | None = None

    @property
    def goals(self) -> tuple[float, float, float]:
        """What is to be small: pressure, the share of the draws in which it does not work, and mass."""
        return self.numbers.pressure_kpa, 1.0 - self.numbers.working, self.mass_g


@dataclass(frozen=True)
class Refusal:
    """A `DesignError` that was met in another process: its code and words."""

    code: str
    what: str
    fix: str

    def error(self) -> DesignError:
        """The error again."""
        again = DesignError(self.what, "search", self.fix)
        again.code = self.code
        return again


Worked: TypeAlias = tuple[Choice, WornCase]


@dataclass(frozen=True, eq=False)
class Shared:
    """What all designs of a search have from the start.

    Attributes
    ----------
    form : the maker's outer form of the chamber; None lets the program choose each.
    surface : the contact surface that the start would have; worn by every sketch whose recipe asks for a
        shaped one. What is designed in full has its own.
    """

    form: ChamberForm | None = None
    surface: ShapedSurface | None = None


class DesignEvaluator:
    """Evaluates designs of one wearer, all on the same draws.

    Parameters
    ----------
    prepared : the wearer.
    recipe : with the values that are not varied. An automatic pull or share of it is not settled for each
        design: all of them are pulled as it is looked from, so that they can be compared.
    touch : what is assumed.
    chosen : how many draws.
    shared : what all designs have.
    """

    def __init__(
        self,
        prepared: Prepared,
        recipe: Recipe,
        touch: PredictionSettings,
        chosen: ImproveSettings,
        shared: Shared | None = None,
    ) -> None:
        self.prepared, self.recipe, self.touch, self.shared = prepared, recipe, touch, shared or Shared()
        self.cache = StageCache()
        self._first = self._draws(0, chosen.samples)
        self._fresh = self._draws(1, chosen.confirm_samples)

    def _draws(self, shift: int, samples: int) -> tuple[FitSettings, Draws]:
        fit = replace(self.touch.fit, samples=samples, seed=self.touch.fit.seed + shift)
        return fit, make_draws(fit, self.touch.contact.foundation.skin.poisson)

    def worked_out(self, values: dict[str, float]) -> Worked | Refusal:
        """Pressure and working share of the recipe with other values, or why it cannot be."""
        try:
            recipe = with_values(self.recipe, values)
            kept = self.shared
            surface = kept.surface if recipe.contact_surface.shaped else None
            design = sketch(self.prepared, recipe, cache=self.cache, surface=surface, form=kept.form)
            case = worn_case(design, with_cushion(self.touch, recipe.cushion))
            numbers = _numbers(self._worn(recipe, case, *self._first))
        except DesignError as error:
            return Refusal(error.code, error.what, error.fix)
        choice = Choice(
            values=values,
            recipe=recipe,
            numbers=numbers,
            mass_g=case.hanging.mass_g,
            chamber_ml=design.chamber_ml if design.chamber_ml is not None else 0.0,
            seal_line_mm=require_line(design).length_mm,
        )
        return choice, case

    def confirmed(self, worked: Worked) -> Choice | Refusal:
        """A choice on fresh draws: the search may have suited its own."""
        choice, case = worked
        try:
            return replace(choice, numbers=_numbers(self._worn(choice.recipe, case, *self._fresh)))
        except NotConverged as error:
            return Refusal(error.code, error.what, error.fix)

    def in_full(self, asked: tuple[Recipe, Examine | None]) -> FullCheck:
        """What the report of a recipe says."""
        return full_check(self.prepared, *asked, form=self.shared.form)

    def _worn(self, recipe: Recipe, case: WornCase, fit: FitSettings, draws: Draws) -> Worn:
        """A design on some draws.

        Raises
        ------
        NotConverged : it finds no hold in any of them.
        """
        touch = with_cushion(self.touch, recipe.cushion).contact
        worn = Ensemble(case, touch, fit, draws).worn()
        if not worn.good.any():
            raise NotConverged(
                "The mask finds no hold on the face in any of the drawn cases.",
                Where("straps"),
                "Check lugs, straps and seal line.",
            )
        return worn


def _numbers(worn: Worn) -> Numbers:
    reaching = worn.fit_factor >= limit("fit_factor").value
    return Numbers(worn.p95_median_kpa, share_working(worn), float(worn.holds.mean()), float(reaching.mean()))
