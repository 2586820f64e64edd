"""Section of the report about the steps of the layers on the face that touches the skin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict

import numpy as np

from ...designing.contact_face import ContactFace, contact_face_of, mould_advice
from ...designing.design import Design
from ...limits import limit
from ...mesh import Floats
from ...printing.layer_ranges import LayerAdvice
from ...printing.plan import PrintPlan
from ...printing.staircase import tread_mm

_LEVEL = np.sqrt(0.5)


def planned_face(design: Design, plans: Mapping[str, PrintPlan] | None = None) -> ContactFace | None:
    """The contact face as it prints; of a part whose way up is searched, as its plan found it."""
    liner = (plans or {}).get("liner")
    return contact_face_of(design, None if liner is None else np.array(liner.up))


def contact_face_section(design: Design, plans: Mapping[str, PrintPlan]) -> dict[str, object] | None:
    """Steps of the contact face and the layers advised for it; None of what has no band."""
    face = planned_face(design, plans)
    if face is None:
        return None
    steps, plan = face.cusp_mm, plans.get(face.part)
    advice = plan.smooth if plan is not None else mould_advice(design, face)
    return {
        "part": face.part,
        "covered": face.covered,
        "layer_mm": face.layer_mm,
        "coating_mm": face.coating_mm,
        "up": face.up,
        "level_share": float(np.mean(face.slope > _LEVEL)),
        "cusp_median_mm": float(np.median(steps)),
        "cusp_p95_mm": float(np.percentile(steps, 95)),
        "cusp_max_mm": float(steps.max()),
        "over_share": float(np.mean(steps > limit("contact_cusp").value)),
        "tread_median_mm": float(np.median(tread_mm(face.slope, face.layer_mm))),
        "coated_p95_mm": float(np.percentile(face.coated_mm, 95)),
        "advice": None if advice is None else _advice(advice),
    }


def _advice(advice: LayerAdvice) -> dict[str, object]:
    return {
        "ranges": [asdict(one) for one in advice.ranges],
        "layers": advice.layers,
        "more_layers": advice.layers - advice.even_layers,
        "time_min": advice.time_min,
        "more_time_min": advice.time_min - advice.even_time_min,
        "cusp_p95_mm": advice.cusp_p95_mm,
        "over_share": advice.over_share,
    }


def station_steps(design: Design) -> Floats | None:
    """Highest step across the band at every station (n,), mm; None of what has no contact face."""
    face = planned_face(design)
    return None if face is None else np.asarray(face.cusp_mm.max(axis=1))
