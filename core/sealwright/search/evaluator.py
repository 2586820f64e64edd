"""One design of a search: what it is, and its peak pressure and leak, the two objectives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..designing.filter_air import filter_of
from ..designing.prepared import Prepared
from ..designing.sketch import sketch
from ..physics.comfort import comfort_of
from ..physics.contact import solve_contact
from ..physics.fit_range import predict_fit
from ..physics.fit_settings import FitSettings
from ..physics.patch import ContactPatch, StrapPull
from ..physics.prediction_settings import PredictionSettings
from ..predict.assumed import with_cushion
from ..predict.band import band_on_skin, require_line
from ..predict.straps import strap_pulls
from ..recipe import Recipe, with_values
from ..settings import count, section, switch
from ..stage_cache import StageCache
from .full_check import FullCheck
from .search import SearchSettings


@dataclass(frozen=True)
class ImproveSettings:
    """How better designs are searched."""

    search: SearchSettings = section(SearchSettings, "Length and seed of the search.")
    samples: int = count(12, 8, 256, "Draws of scan noise, skin and tension that each design is offered to.")
    confirm_samples: int = count(
        64, 8, 1024, "Fresh draws that what is found, and the start, are offered to in the end."
    )
    build_picks: bool = switch(
        True, "Design what is picked out in full and judge it as its report does; half a minute for each."
    )


@dataclass(frozen=True, eq=False)
class Choice:
    """A design of the trade-off.

    Attributes
    ----------
    values : the values that were varied, by recipe key.
    recipe : the whole recipe.
    peak_kpa, p95_kpa, mean_kpa : highest pressure, the one that 95 % of the touching skin stay below, mean.
    leak_share : mean over the draws of inside over outside concentration (1 over the fit factor).
    pass_chance : share of the draws at or above the pass level.
    chamber_ml : air between face and body, without bore and holder.
    seal_line_mm : length of the seal line.
    full : what its report says; None where it was not designed in full.
    """

    values: dict[str, float]
    recipe: Recipe
    peak_kpa: float
    p95_kpa: float
    mean_kpa: float
    leak_share: float
    pass_chance: float
    chamber_ml: float
    seal_line_mm: float
    full: FullCheck | None = None


class DesignEvaluator:
    """Evaluates designs of one wearer, each only once."""

    def __init__(self, prepared: Prepared, recipe: Recipe, touch: PredictionSettings) -> None:
        self.prepared, self.recipe, self.touch = prepared, recipe, touch
        self.cache = StageCache()
        self.known: dict[tuple[float, ...], tuple[Choice, ContactPatch, list[StrapPull]]] = {}

    def evaluate(self, values: dict[str, float]) -> Choice:
        """Pressure and leak of the recipe with other values.

        Raises
        ------
        DesignError : a design that cannot be, or a mask that finds no hold.
        """
        key = tuple(values.values())
        if key not in self.known:
            self.known[key] = self._worked_out(values)
        return self.known[key][0]

    def confirmed(self, values: dict[str, float], chosen: ImproveSettings) -> Choice:
        """A choice evaluated before, with its leak from fresh draws: the search may have suited its own."""
        choice = self.evaluate(values)
        patch, pulls = self.known[tuple(values.values())][1:]
        fit = replace(self.touch.fit, samples=chosen.confirm_samples, seed=self.touch.fit.seed + 1)
        leak, chance = self._leak(choice.recipe, patch, pulls, fit)
        return replace(choice, leak_share=leak, pass_chance=chance)

    def _worked_out(self, values: dict[str, float]) -> tuple[Choice, ContactPatch, list[StrapPull]]:
        recipe = with_values(self.recipe, values)
        touch = with_cushion(self.touch, recipe.cushion)
        design = sketch(self.prepared, recipe, cache=self.cache)
        patch, pulls = band_on_skin(design).patch, strap_pulls(design, touch.straps)
        contact = solve_contact(patch, pulls, touch.contact)
        leak, chance = self._leak(recipe, patch, pulls, touch.fit)
        choice = Choice(
            values,
            recipe,
            contact.peak_kpa,
            comfort_of(patch, contact, touch.comfort).high_kpa,
            contact.mean_kpa,
            leak,
            chance,
            design.chamber_ml if design.chamber_ml is not None else 0.0,
            require_line(design).length_mm,
        )
        return choice, patch, pulls

    def _leak(
        self, recipe: Recipe, patch: ContactPatch, pulls: Sequence[StrapPull], fit: FitSettings
    ) -> tuple[float, float]:
        """Mean share of outside air inside, and chance to pass, over draws."""
        medium = filter_of(recipe, self.touch.filter)[0]
        touch, noise = with_cushion(self.touch, recipe.cushion), self.prepared.face.noise_mm
        found = predict_fit(patch, pulls, medium, touch.contact, fit, touch.pass_level, noise_mm=noise)
        return float(np.mean(1.0 / found.fit_factors)), found.chance_pass
