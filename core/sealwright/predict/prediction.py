"""Everything that is expected of a design on its wearer, worked out as a job of steps.

What is weak in it stands in `physics.weaknesses`. A prediction is no fit test.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
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
from ..physics.fit_range import FitRange, fit_steps
from ..physics.patch import StrapPull
from ..physics.prediction_settings import PredictionSettings
from ..physics.tension import TensionFound, tension_at_pressure, tension_to_close, tension_to_hold
from ..progress import Job, Step, run_to_end
from ..settings import check_settings
from .air import breathing_of, filter_of, medium_source
from .assumed import assumed_of
from .band import BandOnSkin, band_on_skin
from .result import ContactSpread, Prediction, contact_spread
from .straps import strap_pulls


@dataclass(frozen=True, eq=False)
class _OnFace:
    """The parts of a prediction that need the mask to find a hold."""

    contact: ContactResult | None = None
    comfort: Comfort | None = None
    compared: BandComparison | None = None
    spread: ContactSpread | None = None
    fit: FitRange | None = None
    to_close: TensionFound | None = None
    to_hold: TensionFound | None = None
    at_capillary: TensionFound | None = None
    remarks: tuple[Remark, ...] = ()
    refusal: str = ""


def predict(
    design: Design,
    settings: PredictionSettings | None = None,
    tell: Callable[[Step], None] | None = None,
) -> Prediction:
    """Predict to the end; see `predict_steps`. ``tell`` hears every step."""
    return run_to_end(predict_steps(design, settings), tell)


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
    chosen = with_measured_noise(chosen, design.prepared.face.noise_mm)
    pulls = tuple(strap_pulls(design, chosen.straps))
    yield Step(0.05, "Balancing the mask on the skin")
    on_face = yield from _on_face(design, band, pulls, chosen)
    yield Step(0.95, "Breathing and sizing")
    breathing = breathing_of(design, chosen.filter)
    out_pa = exhalation(limit("breath_out_flow").value, breathing.medium, breathing.airway).total_pa
    lift = lift_off_pull_n(
        projected_area_mm2(band.patch) / 100.0,
        float(band.patch.areas.sum()) / 100.0,
        min(out_pa, 5000.0),
        chosen.contact.seal_margin_pa,
    )
    return Prediction(
        settings=chosen,
        band=band,
        pulls=pulls,
        contact=on_face.contact,
        comfort=on_face.comfort,
        compared=on_face.compared,
        spread=on_face.spread,
        fit=on_face.fit,
        to_close=on_face.to_close,
        to_hold=on_face.to_hold,
        at_capillary=on_face.at_capillary,
        lift_off_n=lift,
        breathing=breathing,
        sizing=_sizing(design, chosen),
        medium_source=medium_source(design.recipe),
        remarks=(*on_face.remarks, *_pull_remarks(pulls, lift)),
        refusal=on_face.refusal,
    )


def with_measured_noise(chosen: PredictionSettings, noise_mm: float) -> PredictionSettings:
    """The settings with a drawn scan noise no less than the white noise that was measured on the scan."""
    noise = min(max(chosen.fit.scan_noise_mm, noise_mm), 3.0)
    return replace(chosen, fit=replace(chosen.fit, scan_noise_mm=noise))


def _on_face(
    design: Design, band: BandOnSkin, pulls: tuple[StrapPull, ...], chosen: PredictionSettings
) -> Job[_OnFace]:
    """Contact, leak and tensions; a mask without hold comes back with its reason."""
    patch, touch = band.patch, chosen.contact
    try:
        contact = solve_contact(patch, pulls, touch)
        drawn: list[ContactResult] = []
        medium = filter_of(design.recipe, chosen.filter)[0]
        steps = fit_steps(patch, pulls, medium, touch, chosen.fit, chosen.pass_level, drawn.append)
        fit = yield from told(steps, 0.1, 0.7, "Drawing faces, skins and tensions")
        yield Step(0.7, "Looking for strap tensions")
        close = tension_to_close(patch, pulls, touch, chosen.tension)
        hold = tension_to_hold(patch, pulls, touch, chosen.tension)
        capillary = tension_at_pressure(patch, pulls, settings=touch, search=chosen.tension)
    except NotConverged as error:
        return _OnFace(refusal=f"{error.what} {error.fix}")
    return _OnFace(
        contact,
        comfort_of(patch, contact, chosen.comfort),
        _narrow_beside(band, pulls, chosen),
        contact_spread(contact, drawn),
        fit,
        close,
        hold,
        capillary,
        contact.remarks,
    )


def told(steps: Generator[float, None, FitRange], first: float, last: float, label: str) -> Job[FitRange]:
    """A series of shares done as steps of a job between two fractions."""
    while True:
        try:
            share = next(steps)
        except StopIteration as done:
            found: FitRange = done.value
            return found
        yield Step(first + (last - first) * share, label)


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
