"""The fit report: everything that is known of a design, as plain data for JSON and HTML."""

from __future__ import annotations

import json
import math
import platform
from collections.abc import Mapping, Sequence
from importlib import metadata
from typing import Any

import numpy as np

from .. import __version__
from ..cautions import CAUTIONS
from ..designing.design import Design
from ..errors import Remark
from ..mesh import Floats
from ..predict.result import Prediction
from ..predict.second_pose_result import SecondPoseCheck
from ..printing.in_place import InPlaceRing
from ..printing.plan import PrintPlan
from ..recipe import recipe_to_json
from ..solids.soundness import Soundness, soundness_of
from ..verdicts.rules_prediction import prediction_verdicts
from ..verdicts.rules_shape import shape_verdicts
from ..verdicts.rules_use import use_verdicts
from ..verdicts.verdict import summary_of
from .sections import parts as sections
from .sections.breathing import breathing_section, sizing_section
from .sections.prediction import prediction_section, printing_section, second_pose_section
from .sections.stations import stations_section
from .sections.trust import trust_section

FORMAT = "sealwright-fit-report-1"
DIGITS = 6  # significant digits of every number but transform and recipe: past what any of them means
_EXACT = ("scan_to_design", "recipe")


def fit_report(
    design: Design,
    plans: Mapping[str, PrintPlan] | None = None,
    prediction: Prediction | None = None,
    timings: Mapping[str, float] | None = None,
    soundness: Mapping[str, Soundness] | None = None,
    second_pose: SecondPoseCheck | None = None,
    rings: Sequence[InPlaceRing] = (),
) -> dict[str, Any]:
    """The fit report of a finished design.

    Parameters
    ----------
    design : the design; previews have fewer sections.
    plans : print plans by part name, or None.
    prediction : see `predict.prediction`, or None.
    timings : seconds by step; all else is the same for the same design.
    soundness : by part name, where it has been looked at already (seconds for a large part).
    second_pose : see `predict.second_pose`, or None.
    rings : soft rings printed in place.

    Returns
    -------
    Plain data for JSON; every key is explained in the glossary (`keys.glossary`), `schema.report_schema`
    describes it. Numbers have six significant digits, except the transform and the recipe.
    """
    prepared = design.prepared
    report: dict[str, Any] = {
        "format": FORMAT,
        "title": design.recipe.title,
        "kind": design.recipe.kind,
        "cautions": [vars(caution) for caution in CAUTIONS],
        "summary": None,
        "verdicts": [],
        "remarks": [_remark(r) for r in (*design.remarks, *_more_remarks(prediction, second_pose))],
        "scan": sections.scan_section(prepared, design),
        "scan_to_design": prepared.scan_to_design,
        "landmarks": sections.landmarks_section(prepared),
        "sizing": sizing_section(prepared, design.recipe.prediction.sizing),
        "seal_line": sections.seal_section(design),
        "trust": trust_section(design),
        "contact": sections.contact_section(design),
        "clearance": sections.clearance_section(design),
        "wall": sections.wall_section(design),
        "volumes": sections.volumes_section(design),
        "masses": sections.masses_section(design),
        "filter": sections.filter_section(design),
        "breathing": breathing_section(design),
        "parts": _parts(design, soundness or {}),
        "hardware": {name: design.facts.get(name, {}) for name in ("holder", "lug")}
        | {"ports": list(design.facts.get("ports", []))},
        "printing": printing_section(plans, rings),
        "prediction": prediction_section(prediction),
        "second_pose": second_pose_section(second_pose),
        "stations": stations_section(design, prediction),
        "recipe": json.loads(recipe_to_json(design.recipe)),
        "versions": versions(),
    }
    report = {key: _plain(value, key in _EXACT) for key, value in report.items()}
    judged = (*shape_verdicts(report), *use_verdicts(report), *prediction_verdicts(report))
    report["verdicts"] = [_plain(v.as_dict()) for v in judged]
    report["summary"] = summary_of(report["verdicts"])
    steps = {name: round(float(s), 3) for name, s in (timings or {}).items()}
    report["timings"] = {"steps_s": steps, "total_s": round(sum(steps.values()), 3)}
    return report


def report_json(report: Mapping[str, Any]) -> str:
    """A report as JSON text, the same text for the same report."""
    return json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def versions() -> dict[str, str]:
    """What the numbers were made with."""
    names = ("numpy", "scipy", "manifold3d", "libigl")
    found = {"sealwright": __version__, "python": platform.python_version()}
    for name in names:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:  # bundled without its metadata, as inside an extension
            found[name] = "unknown"
    return found


def _more_remarks(prediction: Prediction | None, second_pose: SecondPoseCheck | None) -> list[Remark]:
    """Remarks of the predictions, each once."""
    found = [*(prediction.remarks if prediction else ()), *(second_pose.remarks if second_pose else ())]
    return list({(r.text, r.where): r for r in found}.values())


def _remark(remark: Remark) -> dict[str, Any]:
    where = remark.where
    return {
        "level": remark.level,
        "text": remark.text,
        "role": where.role,
        "key": where.key,
        "point_mm": list(where.point) if where.point else None,
        "frame": where.frame,
    }


def _parts(design: Design, known: Mapping[str, Soundness]) -> dict[str, Any]:
    """Size, triangles and soundness of every part."""
    out = {}
    for name, solid in design.parts.items():
        mesh = solid.mesh
        found = known.get(name) or soundness_of(mesh, name, expected_genus(design, name))
        out[name] = {
            "triangles": len(mesh.faces),
            "vertices": len(mesh.vertices),
            "bounding_box_mm": mesh.bounds,
            "size_mm": mesh.extents,
            "area_mm2": mesh.area,
            "soundness": found.as_dict(),
        }
    return out


def expected_genus(design: Design, part: str) -> int | None:
    """Through-holes a part should have; None where spokes, grids or choices make it vary.

    A body is a ring (from the face opening through the first port); every further plain port and every lug
    slot is one more hole.
    """
    if part == "tube":
        return 1
    kinds = [place.connection.kind for place in design.recipe.ports]
    if part != "body" or "valve" in kinds:
        return None
    return len(kinds) + len(design.straps)


def _plain(value: Any, exact: bool = False) -> Any:
    """Arrays, tuples and NumPy numbers as plain data; numbers that are not finite become None."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item, exact) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return _plain(value.tolist(), exact)
    if isinstance(value, list | tuple):
        return [_plain(item, exact) for item in value]
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return _number(float(value), exact)
    return value


def _number(value: float, exact: bool) -> float | None:
    if not math.isfinite(value):
        return None
    # Nothing here means anything below 1e-9; adding zero turns -0.0 into 0.0.
    return value if exact else float(f"{round(value, 9):.{DIGITS}g}") + 0.0


def transform_of(report: Mapping[str, Any]) -> Floats:
    """The 4x4 of a report that takes scan coordinates (scan unit) to the design frame in mm."""
    return np.array(report["scan_to_design"], dtype=np.float64)
