"""From a design and what was worked out for it to the numbers that are judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..checks.assembly import AssemblyCheck
from ..designing.design import Design
from ..designing.doubts import doubts_at
from ..designing.shape import seated_band
from ..mesh import Floats
from ..predict.air import Breathing, breathing_of
from ..predict.result import Prediction
from ..predict.second_pose_result import SecondPoseCheck
from ..predict.tried import Tried
from ..predict.ways import WayUp
from ..printing.in_place import InPlaceRing
from ..printing.plan import PrintPlan
from ..solids.distance import MeshDistance
from ..solids.soundness import Soundness
from ..trust.verdicts import trust_of
from .measured import (
    AssemblyMeasured,
    BreathingMeasured,
    ClearanceMeasured,
    ContactMeasured,
    HardwareMeasured,
    HoldMeasured,
    Measured,
    PredictionMeasured,
    PrintMeasured,
    ScanMeasured,
    SecondPoseMeasured,
    WearerMeasured,
)
from .places import worst_places


@dataclass(frozen=True, eq=False, kw_only=True)
class Examined:
    """What is worked out for a finished design beyond its build.

    Attributes
    ----------
    prediction : on the wearer; None for a tube, or where it was not asked for.
    plans : print plans by part name.
    assembly : the parts put together, or None.
    soundness : of the parts by name; what is missing was not looked at.
    second_pose : the check in another pose, or None.
    rings : soft rings printed in place.
    tried : what would change it, or None.
    ways : ways up of the body beside each other.
    """

    prediction: Prediction | None = None
    plans: Mapping[str, PrintPlan] = field(default_factory=dict)
    assembly: AssemblyCheck | None = None
    soundness: Mapping[str, Soundness] = field(default_factory=dict)
    second_pose: SecondPoseCheck | None = None
    rings: Sequence[InPlaceRing] = ()
    tried: Tried | None = None
    ways: Sequence[WayUp] = ()


def measured_of(
    design: Design,
    examined: Examined | None = None,
) -> Measured:
    """All that is judged of a design; what was not worked out is left out.

    Parameters
    ----------
    design : the design; of a preview little was measured.
    examined : what was worked out for it beyond the build; None is nothing.
    """
    worked = examined or Examined()
    breathing = breathing_by(design, worked.prediction)
    trust = trust_of(design)
    return Measured(
        scan=_scan(design),
        wearer=_wearer(design),
        landmarks=_sure(design),
        sectors=trust.sectors if trust is not None else (),
        contact=_contact(design),
        clearance=_clearance(design),
        wall=design.wall.facts if design.wall is not None else None,
        problems={name: found.problems for name, found in worked.soundness.items()},
        breathing=_breathing(breathing) if breathing is not None else None,
        hardware=_hardware(design),
        assembly=_assembly(worked.assembly) if worked.assembly is not None else None,
        prints={name: _print(plan) for name, plan in worked.plans.items()},
        prediction=_prediction(worked.prediction, worked.tried) if worked.prediction is not None else None,
        second_pose=_second_pose(worked.second_pose) if worked.second_pose is not None else None,
        doubts={key: doubts_at(design.prepared, p[None]) for key, p in worst_places(design).items()},
    )


def breathing_by(design: Design, prediction: Prediction | None) -> Breathing | None:
    """Breathing as predicted, or worked out where nothing was predicted; None without a holder.

    Of a shape of the maker's own nobody knows what air it encloses.
    """
    if design.holder is None or design.own is not None:
        return None
    return prediction.breathing if prediction is not None else breathing_of(design)


def _wearer(design: Design) -> WearerMeasured | None:
    found = design.prepared.plausible
    if found is None:
        return None
    return WearerMeasured(
        face_length_mm=found.face_length_mm,
        adult_said=found.adult_said,
        stretch=found.stretch,
        mouth=found.mouth,
        second_face=found.second_face,
    )


def _sure(design: Design) -> dict[str, float]:
    """Confidence of each landmark; 1 for those set by hand."""
    prepared = design.prepared
    return {name: float(prepared.confidence.get(name, 1.0)) for name in sorted(prepared.landmarks)}


def _scan(design: Design) -> ScanMeasured:
    face, fit = design.prepared.face, design.fit
    noise, bound = face.noise_mm, face.smoothing.bound_mm
    if fit is None:
        return ScanMeasured(noise_mm=noise, smoothing_bound_mm=bound)
    scanned = face.is_measured(face.chart.place_of(fit.places)[0])
    away = MeshDistance(design.prepared.skin).to(fit.places[scanned]) if scanned.any() else None
    return ScanMeasured(
        noise_mm=noise,
        smoothing_bound_mm=bound,
        guessed_share_under_band=float(1.0 - scanned.mean()),
        band_to_scan_p95_mm=_quantile(away),
        band_to_scan_max_mm=float(away.max()) if away is not None else None,
    )


def _quantile(away: Floats | None) -> float | None:
    return float(np.percentile(away, 95)) if away is not None else None


def _contact(design: Design) -> ContactMeasured | None:
    if design.fit is None:
        return None
    band = seated_band(design.recipe)
    return ContactMeasured(
        found=design.fit.facts, wanted_gap_mm=band.stand_off_mm, wanted_width_mm=band.width_mm
    )


def _clearance(design: Design) -> ClearanceMeasured:
    found, entry = design.clearance, design.entry
    near = found.nearest_mm if found is not None and np.isfinite(found.nearest_mm) else None
    return ClearanceMeasured(
        wanted_mm=design.recipe.chamber.clearance_mm if design.recipe.kind == "body" else None,
        nose_lips_mm=near,
        entry_mm=entry.deepest_mm if entry is not None else None,
    )


def _breathing(found: Breathing) -> BreathingMeasured:
    return BreathingMeasured(limits=found.limits, rebreathing=found.rebreathing)


def _hardware(design: Design) -> HardwareMeasured:
    lug = design.lug.facts if design.lug is not None else None
    holder = design.holder.facts.sizes if design.holder is not None else None
    return HardwareMeasured(
        lug_safety_factor=lug.lug_safety_factor if lug else None,
        lug_bears_n=lug.lug_bears_n if lug else 0.0,
        lug_pull_n=lug.lug_pull_n if lug else 0.0,
        holder_mass_g=holder.holder_mass_solid_g if holder else None,
        thread_engaged_turns=holder.thread_engaged_turns if holder else None,
    )


def _assembly(check: AssemblyCheck) -> AssemblyMeasured:
    rigid = [mate.facts.overlap_mm3 for mate in check.mates if mate.facts.depth_stated_mm == 0.0]
    return AssemblyMeasured(
        pairs=len(check.mates),
        faults=tuple((m.facts.part, m.facts.other, m.facts.fault) for m in check.faulty),
        overlap_mm3=max(rigid, default=0.0),
    )


def _print(plan: PrintPlan) -> PrintMeasured:
    return PrintMeasured(
        fits_bed=plan.fits_bed, support_free=plan.support_free, longest_bridge_mm=plan.longest("bridge")
    )


def _prediction(found: Prediction, tried: Tried | None) -> PredictionMeasured:
    contact, comfort, fit = found.contact, found.comfort, found.fit
    summary, worn = found.summary, found.worn
    if contact is None or comfort is None or fit is None or summary is None or worn is None:
        return PredictionMeasured(hold=None, refusal=found.refusal)
    hold = HoldMeasured(
        share_holding=summary.share_holding,
        share_staying=summary.share_staying,
        weakest=worn.weakest_position(),
        straps_n=float(sum(pull.tension_n for pull in found.pulls)),
        needed_n=found.lift_off_n,
        automatic_pull=found.automatic_pull,
        median_p95_kpa=summary.pressure_p95_kpa,
        fit_p5=fit.quantiles[0],
        fit_p75=fit.quantiles[3],
        fit_p95=fit.quantiles[-1],
        chance_pass=fit.chance_pass,
        leaks_most=_largest(fit.region_share),
        high_kpa=comfort.high_kpa,
        mean_kpa=contact.mean_kpa,
        over_capillary_share=comfort.over_capillary,
        presses_most=_largest(comfort.region_peak_kpa),
        advised_h=comfort.advised_h,
        tried=tried,
    )
    return PredictionMeasured(hold=hold)


def _largest(by_name: Mapping[str, float]) -> tuple[str, float]:
    """The entry with the largest number; of equal ones the last name."""
    return max(by_name.items(), key=lambda item: (item[1], item[0]))


def _second_pose(check: SecondPoseCheck) -> SecondPoseMeasured:
    held = check.contact is not None and check.fit is not None
    return SecondPoseMeasured(
        lifted_share=float(check.lifted.mean()),
        largest_lift_mm=float(check.lift_mm.max()) if held else None,
        refusal=check.refusal,
        upper_face_mm=check.still_p90_mm,
        nose_apart_mm=check.nose_apart_mm,
    )
