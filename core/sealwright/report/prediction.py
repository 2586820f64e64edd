"""Contact, leak and comfort of a finished design, worked out together for the report."""

from __future__ import annotations

from dataclasses import dataclass

from ..design import Design
from ..errors import DesignError, DoesNotFit
from ..hardware.filter_area import medium_row
from ..physics.comfort import Comfort, comfort_of
from ..physics.contact import solve_contact
from ..physics.contact_result import ContactResult, ContactSettings
from ..physics.fit_range import FitRange, FitSettings, predict_fit
from ..physics.leak import Medium
from ..physics.loop import patch_from_grid
from ..physics.patch import ContactPatch, StrapPull, strap_pull_of
from ..physics.regions import face_regions
from ..physics.tension import TensionFound, tension_at_pressure, tension_to_close
from ..progress import Job, Step, run_to_end
from ..settings import section

PENETRATION = 0.0
"""The medium is taken as perfect, as in a quantitative fit test: what is predicted is the seal alone."""


@dataclass(frozen=True)
class PredictionSettings:
    """What the prediction assumes."""

    contact: ContactSettings = section(ContactSettings, "Skin, soft layer, friction.")
    fit: FitSettings = section(FitSettings, "Uncertainties and their draw.")


@dataclass(frozen=True, eq=False)
class Prediction:
    """What is expected of a design on its wearer; none of it is a fit test.

    Attributes
    ----------
    settings : what was assumed.
    patch : the contact band, stations by rows, inner side first.
    contact, comfort : balance under the straps, and how it presses; None when the mask finds no hold.
    fit : range of the fit factor; None likewise.
    to_close, at_capillary : strap tensions; None likewise.
    refusal : why there is no result; empty when there is one.
    """

    settings: PredictionSettings
    patch: ContactPatch
    contact: ContactResult | None
    comfort: Comfort | None
    fit: FitRange | None
    to_close: TensionFound | None
    at_capillary: TensionFound | None
    refusal: str = ""


def band_patch(design: Design) -> ContactPatch:
    """The contact band of a finished design for the physics.

    Raises
    ------
    DoesNotFit : a tube or a preview, which have no measured band.
    """
    if design.fit is None:
        raise DoesNotFit(
            "Only a finished body has a contact band to predict from.", "design", "Build the final design."
        )
    places, gap = design.fit.places[:, ::-1], design.fit.gap[:, ::-1]
    face = design.prepared.face
    normals = face.normal_at(face.chart.place_of(places)[0])
    region = face_regions(places.reshape(-1, 3), design.prepared.landmarks).reshape(gap.shape)
    # The check measures from the wanted stand-off; the springs want the gap itself.
    return patch_from_grid(
        places, normals, gap + design.recipe.band.stand_off_mm, design.fit.across[::-1], region
    )


def strap_pulls(design: Design) -> list[StrapPull]:
    """The straps at their lugs, each with the recipe's tension."""
    return [
        strap_pull_of(point.frame[:3, 3], point.pull, design.recipe.straps.tension_n, f"strap {number + 1}")
        for number, point in enumerate(design.straps)
    ]


def filter_medium(design: Design, penetration: float = PENETRATION) -> Medium:
    """The filter of a design as plain numbers; the medium table's middle resistance."""
    holder = design.facts["holder"]
    return Medium(
        float(medium_row(design.recipe.holder.medium)["resistance_pa_s_m"]["value"]),
        float(holder["medium_area_cm2"]),
        penetration,
    )


def predict_steps(design: Design, settings: PredictionSettings | None = None) -> Job[Prediction]:
    """Predict contact, leak and comfort, as a job of steps.

    A mask that finds no hold is a result (``refusal`` says why), not an error.

    Raises
    ------
    DoesNotFit : see `band_patch`.
    BadRecipe : a setting out of range.
    """
    chosen = settings or PredictionSettings()
    yield Step(0.0, "Balancing the mask on the skin")
    patch, pulls = band_patch(design), strap_pulls(design)
    try:
        contact = solve_contact(patch, pulls, chosen.contact)
        yield Step(0.1, "Predicting the range of the fit factor")
        fit = predict_fit(patch, pulls, filter_medium(design), chosen.contact, chosen.fit)
        yield Step(0.9, "Looking for strap tensions")
        close = tension_to_close(patch, pulls, chosen.contact)
        capillary = tension_at_pressure(patch, pulls, settings=chosen.contact)
    except DesignError as error:
        if error.code != "not-converged":
            raise
        return Prediction(chosen, patch, None, None, None, None, None, f"{error.what} {error.fix}")
    return Prediction(chosen, patch, contact, comfort_of(patch, contact), fit, close, capillary)


def predict(design: Design, settings: PredictionSettings | None = None) -> Prediction:
    """Predict to the end; see `predict_steps`."""
    return run_to_end(predict_steps(design, settings))
