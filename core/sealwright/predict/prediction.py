"""Everything that is expected of a design on its wearer, worked out as a job of steps.

What is weak in it stands in `physics.weaknesses`. A prediction is no fit test.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..anthropometry.sizing import Sizing, size_wearer
from ..designing.design import Design
from ..errors import DoesNotFit, LandmarkMissing, NotConverged, Remark, Where
from ..limits import limit
from ..physics.breathing import exhalation
from ..physics.chamber_load import lift_off_pull_n, projected_area_mm2
from ..physics.comfort import BandComparison, Comfort, comfort_of, compare_bands
from ..physics.contact import solve_contact
from ..physics.contact_result import ContactResult
from ..physics.ensemble import Ensemble
from ..physics.fit_range import FitRange, fit_range_of, nominal_leak
from ..physics.hours import WearTime, wear_time
from ..physics.layer_contact import EdgeRadii, LayerContact, layer_contact
from ..physics.least_pull import LeastPulls
from ..physics.patch import StrapPull
from ..physics.prediction_settings import PredictionSettings
from ..physics.statics import POSITIONS, weight_wrench
from ..physics.tension import TensionFound, tension_at_pressure, tension_to_close, tension_to_hold
from ..physics.worn import Worn
from ..progress import Job, Step
from ..settings import check_settings
from .air import breathing_of, medium_source
from .assumed import assumed_of
from .band import BandOnSkin, band_on_skin
from .hanging import hanging
from .result import Prediction, contact_spread, summary_of
from .settled_pull import settled_steps
from .worn_case import worn_case


@dataclass(frozen=True, eq=False)
class _OnFace:
    """The parts of a prediction that need the mask to find a hold."""

    contact: ContactResult | None = None
    comfort: Comfort | None = None
    compared: BandComparison | None = None
    pulls: tuple[StrapPull, ...] = ()
    worn: Worn | None = None
    fit: FitRange | None = None
    hours: WearTime | None = None
    least: LeastPulls | None = None
    layer: LayerContact | None = None
    tensions: tuple[TensionFound, TensionFound, TensionFound] | None = None
    upper_share: float | None = None
    remarks: tuple[Remark, ...] = ()
    refusal: str = ""


def predict_steps(design: Design, settings: PredictionSettings | None = None) -> Job[Prediction]:
    """Predict contact, leak, breathing, comfort and size, as a job of steps.

    A mask that finds no hold is a result (``refusal`` says why), not an error.

    Parameters
    ----------
    design : a finished facepiece, or a preview, whose band is taken as trimmed exactly.
    settings : what is assumed; None takes the recipe's own section.

    Raises
    ------
    DoesNotFit : a tube, or a design without lugs or ports.
    BadRecipe : a setting out of range, with the range in the message.
    LandmarkMissing : a landmark that divides the face into regions is missing.
    """
    chosen = settings or assumed_of(design.recipe)
    check_settings(chosen, "recipe.prediction")
    yield Step(0.0, "Laying the band on the measured skin")
    band = band_on_skin(design)
    weight = hanging(design)
    case = worn_case(design, chosen, band, weight)
    ensemble = Ensemble(case, chosen.contact, chosen.fit)
    on_face = yield from _on_face(design, band, ensemble, chosen)
    if on_face.upper_share is not None:
        chosen = replace(chosen, straps=replace(chosen.straps, upper_share=on_face.upper_share))
    yield Step(0.95, "Breathing and sizing")
    breathing = breathing_of(design, chosen.filter)
    out_pa = exhalation(limit("breath_out_flow").value, breathing.medium, breathing.airway).total_pa
    lift = _lift_off_n(band, out_pa, chosen) + weight.weight_n
    worn, hours, contact = on_face.worn, on_face.hours, on_face.contact
    pulls = on_face.pulls or case.pulls
    close, hold, capillary = on_face.tensions or (None, None, None)
    return Prediction(
        settings=chosen,
        band=band,
        pulls=pulls,
        automatic_pull=design.recipe.straps.tension_n is None,
        contact=contact,
        comfort=on_face.comfort,
        compared=on_face.compared,
        spread=None if worn is None or contact is None else contact_spread(contact, worn),
        fit=on_face.fit,
        to_close=close,
        to_hold=hold,
        at_capillary=capillary,
        lift_off_n=lift,
        breathing=breathing,
        sizing=_sizing(design, chosen),
        medium_source=medium_source(design.recipe),
        remarks=(*on_face.remarks, *_pull_remarks(pulls, lift)),
        refusal=on_face.refusal,
        hanging=weight,
        worn=worn,
        summary=None if worn is None or hours is None else summary_of(worn, hours, pulls),
        hours=hours,
        least=on_face.least,
        layer=on_face.layer,
    )


def _lift_off_n(band: BandOnSkin, out_pa: float, chosen: PredictionSettings) -> float:
    return lift_off_pull_n(
        projected_area_mm2(band.patch) / 100.0,
        float(band.patch.areas.sum()) / 100.0,
        min(out_pa, 5000.0),
        chosen.contact.seal_margin_pa,
    )


def _on_face(
    design: Design, band: BandOnSkin, ensemble: Ensemble, chosen: PredictionSettings
) -> Job[_OnFace]:
    """Contact, draws, tensions; a mask without hold comes back with its reason."""
    touch, automatic = chosen.contact, design.recipe.straps.tension_n is None
    try:
        settled = yield from settled_steps(ensemble, chosen, automatic)
        ensemble, case, worn = settled.ensemble, settled.ensemble.case, settled.worn
        medium = case.filter.medium()
        weight = weight_wrench(case.hanging, POSITIONS[0].pull, case.patch.centre)
        yield Step(0.8, "Balancing the mask on the skin")
        contact = solve_contact(case.patch, case.pulls, touch, extra=weight)
        nominal = nominal_leak(ensemble, medium)
        tensions = (
            tension_to_close(case.patch, case.pulls, touch, chosen.tension),
            tension_to_hold(case.patch, case.pulls, touch, chosen.tension),
            tension_at_pressure(case.patch, case.pulls, settings=touch, search=chosen.tension),
        )
        yield Step(0.9, "Letting neighbours hold each other")
        layer = None
        if design.fit is not None:
            layer = layer_contact(case.patch, case.pulls, touch, edge_radii(design), weight)
    except NotConverged as error:
        return _OnFace(refusal=f"{error.what} {error.fix}")
    return _OnFace(
        contact,
        comfort_of(case.patch, contact, chosen.comfort),
        _narrow_beside(band, case.pulls, chosen),
        case.pulls,
        worn,
        fit_range_of(ensemble, worn, nominal, chosen.pass_level),
        wear_time(worn, chosen.comfort),
        settled.least,
        layer,
        tensions,
        settled.upper_share,
        contact.remarks,
    )


def edge_radii(design: Design) -> EdgeRadii:
    """Radii of the band's edges: the roll outside, the fillet into the wall inside."""
    return EdgeRadii(design.recipe.band.edge_radius_mm, design.recipe.chamber.fillet_mm)


def _narrow_beside(
    band: BandOnSkin, pulls: tuple[StrapPull, ...], chosen: PredictionSettings
) -> BandComparison | None:
    """The band beside a narrow hard edge; None where only the narrow edge finds no hold."""
    try:
        return compare_bands(band.patch, pulls, chosen.narrow_mm, chosen.contact, chosen.comfort)
    except (NotConverged, DoesNotFit):
        # The comparison is a side remark: a narrow edge that cannot be is no reason to keep back the rest.
        return None


def _sizing(design: Design, chosen: PredictionSettings) -> Sizing | None:
    """The wearer among others; None where the length of the face is not known."""
    try:
        return size_wearer(
            dict(design.prepared.landmarks), dict(design.prepared.confidence), settings=chosen.sizing
        )
    except LandmarkMissing:
        return None


def _pull_remarks(pulls: tuple[StrapPull, ...], lift_off_n: float) -> tuple[Remark, ...]:
    """A warning where the straps are slacker than breathing out is strong."""
    total = sum(pull.tension_n for pull in pulls)
    if total >= lift_off_n:
        return ()
    text = (
        f"The straps pull {total:.1f} N in all; {lift_off_n:.1f} N are needed to hold the mask while "
        f"breathing out at {limit('breath_out_flow').value:.0f} L/min."
    )
    return (Remark("risk", text, Where("straps", key="straps.tension_n")),)
