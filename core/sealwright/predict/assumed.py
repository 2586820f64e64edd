"""What a prediction of a recipe assumes: its own section, with the cushion as the soft layer."""

from __future__ import annotations

from dataclasses import replace

from ..cushion.settings import CushionSettings, cushion_of
from ..physics.foundation import GasketSettings
from ..physics.prediction_settings import PredictionSettings
from ..recipe import Recipe


def assumed_of(recipe: Recipe) -> PredictionSettings:
    """The recipe's assumptions with its cushion under the band.

    Raises
    ------
    BadRecipe : the cushion's material is not of its kind.
    """
    return with_cushion(recipe.prediction, recipe.cushion)


def with_cushion(assumed: PredictionSettings, cushion: CushionSettings) -> PredictionSettings:
    """Assumptions with another cushion under the band; see `assumed_of`."""
    soft = cushion_of(cushion)
    layer = GasketSettings(soft.thickness_mm, soft.modulus_kpa, soft.poisson)
    foundation = replace(assumed.contact.foundation, gasket=layer)
    return replace(assumed, contact=replace(assumed.contact, foundation=foundation))
