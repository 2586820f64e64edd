"""Holder, lug and ports for the report: their facts as flat keys; what a part has not is left out."""

from __future__ import annotations

from dataclasses import asdict, fields, is_dataclass

from ...checks.assembly import AssemblyCheck
from ...designing.design import Design
from ...hardware.allowance import Allowance
from ...hardware.filter_area import FilterFacts
from ...hardware.rings import FaceGland
from ...hardware.soft_ring import SQUEEZE, SoftRing
from ...hardware.threads import Thread

Section = dict[str, object]


def hardware_section(design: Design) -> Section:
    """Facts of holder, lug and ports."""
    return {
        "holder": flat_keys(design.holder.facts) if design.holder is not None else {},
        "lug": flat_keys(design.lug.facts) if design.lug is not None else {},
        "ports": [flat_keys(placed.parts.facts) for placed in design.ports],
    }


def assembly_section(check: AssemblyCheck | None) -> Section | None:
    """Every pair of mating parts as measured; None where nothing was put together."""
    if check is None or not check.mates:
        return None
    pairs = [asdict(mate.facts) | {"fault": mate.facts.fault} for mate in check.mates]
    return {"pairs": pairs, "free_pairs": check.free_pairs}


def flat_keys(facts: object) -> Section:
    """The fields of a dataclass of facts by name, those of the dataclasses in it among them."""
    match facts:
        case Thread():
            return _thread(facts)
        case FaceGland():
            return _gland(facts)
        case SoftRing():
            return _soft_ring(facts)
        case Allowance():
            return _allowance(facts)
        case FilterFacts():
            return _filter(facts)
    if not is_dataclass(facts):
        raise TypeError(f"{type(facts).__name__} holds no facts")
    found: Section = {}
    for field in fields(facts):
        value = getattr(facts, field.name)
        if is_dataclass(value):
            found |= flat_keys(value)
        elif value is not None:
            found[field.name] = value
    return found


def _thread(thread: Thread) -> Section:
    """Form and nominal sizes of a thread."""
    return {
        "thread": thread.name,
        "thread_form": thread.form,
        "major_diameter_mm": thread.major_mm,
        "pitch_mm": thread.pitch_mm,
        "starts": thread.starts,
        "lead_mm": thread.lead_mm,
        "pitch_diameter_mm": thread.pitch_diameter_mm,
        "male_root_diameter_mm": thread.male_root_mm,
        "female_minor_diameter_mm": thread.female_crest_mm,
        "female_major_diameter_mm": thread.female_root_mm,
        "thread_overlap_mm": thread.overlap_mm,
        "lead_angle_deg": thread.lead_angle_deg,
        "flank_overhang_deg": thread.overhang_deg,
        "thread_source": thread.source,
    }


def _gland(gland: FaceGland) -> Section:
    """A gland and the ring in it."""
    return {
        "ring": gland.ring.size,
        "ring_inside_mm": gland.ring.inside_mm,
        "ring_section_mm": gland.ring.section_mm,
        "ring_stretched_section_mm": gland.section_mm,
        "ring_size_confidence": gland.ring.confidence,
        "gland_inside_diameter_mm": gland.inside_mm,
        "gland_outside_diameter_mm": gland.outside_mm,
        "gland_width_mm": gland.width_mm,
        "gland_depth_mm": gland.depth_mm,
        "ring_squeeze_percent": 100.0 * gland.squeeze,
        "gland_fill_percent": 100.0 * gland.fill,
        "ring_stretch_percent": 100.0 * gland.stretch,
    }


def _soft_ring(ring: SoftRing) -> Section:
    """A soft ring printed in place."""
    return {
        "soft_ring_inner_diameter_mm": 2.0 * ring.inner,
        "soft_ring_outer_diameter_mm": 2.0 * ring.outer,
        "soft_ring_proud_mm": ring.proud,
        "soft_ring_root_depth_mm": ring.depth,
        "soft_ring_root_neck_mm": ring.neck,
        "soft_ring_root_base_mm": ring.base,
        "soft_ring_undercut_deg": ring.undercut_deg,
        "soft_ring_volume_mm3": ring.volume_mm3,
        "soft_ring_squeeze_percent": 100.0 * SQUEEZE,
    }


def _allowance(allowance: Allowance) -> Section:
    """What mating parts were given for clearance, coating and shrinkage."""
    return {
        "clearance_on_diameter_mm": allowance.clearance_mm,
        "gap_per_side_mm": allowance.gap_mm,
        "coating_mm": allowance.coating_mm,
        "shrinkage_percent": list(allowance.shrinkage.percent),
        "print_scale": list(allowance.shrinkage.print_scale),
    }


def _filter(facts: FilterFacts) -> Section:
    """The medium, and what it does at the flows of the limits."""
    found: Section = {
        "medium": facts.medium,
        "medium_confidence": facts.confidence,
        "medium_resistance_pa_s_m": facts.resistance_pa_s_m,
        "medium_area_cm2": facts.area_cm2,
    }
    for at in facts.at_flows:
        found[f"face_velocity_at_{at.flow_l_min:g}_l_min_cm_s"] = at.velocity_cm_s
        found[f"medium_drop_at_{at.flow_l_min:g}_l_min_pa"] = at.drop_pa
    return found
