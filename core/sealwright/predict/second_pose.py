"""The same body on the same wearer in another pose: where the seal lifts, how the skin moves, what leaks.

The second scan is laid on the first by the parts that stay still. The body keeps its shape and its straps;
it finds a new balance on the moved skin. Weak points, beside those of the first prediction: skin that has
moved under the band by several millimetres is outside what linear springs can tell, the straps do not give
way, and an open mouth filled by guess is not skin.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..designing.design import Design
from ..designing.prepared import Prepared
from ..errors import NotConverged, Remark, Where
from ..face.surface import FaceSurface, face_surface
from ..limits import limit
from ..mesh import Floats
from ..physics.contact import solve_contact
from ..physics.contact_result import ContactResult
from ..physics.ensemble import Ensemble
from ..physics.fit_range import FitRange, fit_range_of, nominal_leak
from ..physics.patch import ContactPatch, StrapPull, contact_patch_of
from ..physics.prediction_settings import PredictionSettings
from ..progress import Job, Step
from ..scan.landmarks.landmark_set import Landmark, Landmarks
from ..scan.landmarks.second_pose import align_second_pose
from .band import BandOnSkin, band_on_skin, require_line, smoothing_at
from .result import Prediction
from .second_pose_result import SecondPoseCheck
from .skin_slide import along_and_across, skin_slide
from .worn_case import worn_case

_LEAST_SURE = 0.25  # confidence below which a landmark is not followed


def second_pose_steps(design: Design, second: Prepared, predicted: Prediction) -> Job[SecondPoseCheck]:
    """Check a design in a second pose of its wearer, as a job of steps.

    A mask that comes off in the second pose is a result (``refusal`` says why), not an error.

    Parameters
    ----------
    design : a facepiece, finished or preview, on the first pose.
    second : the second pose, prepared like the first.
    predicted : in the first pose, with what it assumes and how hard its straps pull.

    Raises
    ------
    NotAFace : the scans do not fit each other at forehead and nose bridge.
    DoesNotFit, BadRecipe, LandmarkMissing : see `prediction.predict_steps`.
    """
    chosen = predicted.settings
    first, band = design.prepared, band_on_skin(design)
    yield Step(0.0, "Laying the second pose on the first")
    laid = align_second_pose(first.skin, _marks(first), second.skin, _marks(second))
    yield Step(0.2, "Following the skin")
    reading = design.recipe.scan
    skin = second.skin.moved(laid.second_to_first)
    face = face_surface(skin, first.face.chart, reading.fill_mm, reading.smoothing_mm)
    gap, patch, covered = moved_band(band, face)
    along, across = _slide(design, second, laid.second_to_first)
    yield Step(0.4, "Balancing the mask on the moved skin")
    held = yield from _balance(design, band.patch, patch, predicted.pulls, chosen, second.face.noise_mm)
    loop = band.patch.loop
    return SecondPoseCheck(
        laid.second_to_first,
        laid.still_rms_mm,
        laid.still_share,
        laid.still_p90_mm,
        laid.nose_apart_mm,
        covered,
        gap,
        along,
        across,
        held.before,
        held.contact,
        held.fit,
        np.full(len(gap), np.nan) if held.contact is None else held.contact.station_gap_mm,
        band.patch.region[loop.order][loop.starts],
        held.refusal,
        (*laid.remarks, *_remarks(covered, held)),
    )


@dataclass(frozen=True, eq=False)
class _Held:
    """Both balances and the range of the fit factor, as far as there are any."""

    before: ContactResult | None = None
    contact: ContactResult | None = None
    fit: FitRange | None = None
    refusal: str = ""


def _balance(
    design: Design,
    first: ContactPatch,
    second: ContactPatch,
    pulls: tuple[StrapPull, ...],
    chosen: PredictionSettings,
    other_noise_mm: float,
) -> Job[_Held]:
    before = contact = None
    try:
        before = solve_contact(first, pulls, chosen.contact)
        contact = solve_contact(second, pulls, chosen.contact)
        yield Step(0.45, "Drawing faces, skins, prints and straps")
        case = worn_case(design, chosen)
        noise = max(case.noise_mm, other_noise_mm)
        ensemble = Ensemble(
            replace(case, patch=second, pulls=pulls, noise_mm=noise), chosen.contact, chosen.fit
        )
        nominal = nominal_leak(ensemble, case.filter.medium())
        fit = fit_range_of(ensemble, ensemble.worn(states="seal"), nominal, chosen.pass_level)
    except NotConverged as error:
        return _Held(before, None, None, f"{error.what} {error.fix}")
    return _Held(before, contact, fit)


def moved_band(band: BandOnSkin, face: FaceSurface) -> tuple[Floats, ContactPatch, float]:
    """A body's band over another skin in the same frame.

    The body's side towards the face lies where it was built; only the skin under it is another.

    Parameters
    ----------
    band : the band on the skin it was built for.
    face : the other skin, face frame of the first, mm.

    Returns
    -------
    gap_mm : (n, k) along the other skin's normal, outer edge first.
    patch : the band on the other skin.
    covered : share of the points under which that skin is known.
    """
    stations, rows = band.gap_mm.shape
    pq, radius = face.chart.place_of(band.places)
    other = face.normal_at(pq)
    slant = (face.chart.direction_at(pq) * other).sum(-1)
    step = float(np.abs(np.diff(band.across_mm)).mean())
    # What the skin under a place has moved towards the body is taken from the distance that was there.
    nearer = (face.radius_at(pq) - radius - smoothing_at(face, pq, step)) * slant
    gap = band.gap_mm - band.moved_mm - nearer
    patch = contact_patch_of(
        face.skin_at(pq)[:, ::-1].reshape(-1, 3),
        other[:, ::-1].reshape(-1, 3),
        # The body's own area presses; that of the skin under it may be stretched or folded.
        band.patch.areas,
        gap[:, ::-1].ravel(),
        band.patch.station,
        band.patch.across_mm,
        band.patch.region,
        band.patch.mix,
    )
    return gap.reshape(stations, rows), patch, float(face.is_known(pq).mean())


def _marks(prepared: Prepared) -> Landmarks:
    """Landmarks of a prepared scan in its face frame, whose mirror plane is X = 0."""
    marks = {
        name: Landmark(np.asarray(point), prepared.confidence.get(name, 1.0))
        for name, point in prepared.landmarks.items()
    }
    return Landmarks(marks, np.array([1.0, 0.0, 0.0]))


def _slide(design: Design, second: Prepared, to_first: Floats) -> tuple[Floats, Floats]:
    line, face = require_line(design), design.prepared.face
    moved = {
        name: to_first[:3, :3] @ point + to_first[:3, 3]
        for name, point in second.landmarks.items()
        if min(second.confidence.get(name, 1.0), design.prepared.confidence.get(name, 1.0)) >= _LEAST_SURE
    }
    slide = skin_slide(line.points, design.prepared.landmarks, moved, design.prepared.size)
    return along_and_across(slide, line.tangents, face.normal_at(line.pq))


def _remarks(covered: float, held: _Held) -> list[Remark]:
    where, said = Where("second scan"), []
    if covered < limit("second_scan_skin").value:
        text = (
            f"The second scan has skin under {100 * covered:.0f} % of the band only; elsewhere the nearest "
            "skin was continued."
        )
        said.append(Remark("warning", text, where))
    if held.contact is not None and held.contact.largest_strain > limit("skin_strain").value:
        share = 100 * held.contact.largest_strain
        text = (
            f"In the second pose the skin would be pressed in by {share:.0f} % of its thickness: the "
            "pressures there are only a sign that it is too much."
        )
        said.append(Remark("warning", text, where))
    return said
