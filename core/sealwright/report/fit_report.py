"""The fit report: everything that is known of a design, as plain data for JSON and HTML."""

from __future__ import annotations

import json
import math
import platform
from collections.abc import Mapping
from dataclasses import replace
from importlib import metadata
from typing import cast

import numpy as np

from .. import __version__
from ..cautions import CAUTIONS
from ..designing.design import Design
from ..designing.fittings import ring_port
from ..errors import Remark
from ..export.identity import Identity
from ..plain_data import Json
from ..predict.result import Prediction
from ..predict.second_pose_result import SecondPoseCheck
from ..recipe import recipe_to_json
from ..solids.soundness import Soundness, soundness_of
from ..verdicts.aims import aims_of
from ..verdicts.judge import judge, summary
from ..verdicts.measure import Examined, breathing_by, measured_of
from ..verdicts.measured import Measured
from .sections import parts
from .sections.aims import aims_section
from .sections.breathing import breathing_section, sizing_section
from .sections.contact_face import contact_face_section
from .sections.contact_surface import surface_section
from .sections.cushion import cushion_section
from .sections.hang import hang_section
from .sections.hardware import assembly_section, hardware_section
from .sections.own_shape import own_section
from .sections.prediction import prediction_section, printing_section, second_pose_section
from .sections.stations import stations_section
from .sections.tried import tried_section
from .sections.trust import trust_section
from .sections.ways import ways_section
from .shape import FitReport

FORMAT = "sealwright-fit-report-1"
DIGITS = 6  # significant digits of every number but transform and recipe: past what any of them means
_EXACT = ("scan_to_design", "recipe")


def fit_report(
    design: Design,
    examined: Examined | None = None,
    measured: Measured | None = None,
    timings: Mapping[str, float] | None = None,
    *,
    identity: Identity | None = None,
) -> FitReport:
    """The fit report of a finished design.

    Parameters
    ----------
    design : the design; previews have fewer sections.
    examined : what was worked out for it; parts whose soundness is not in it are looked at (seconds for a
        large one).
    measured : the numbers that are judged, where they were taken already.
    timings : seconds by step; all else is the same for the same design.
    identity : whose design it is, or None.

    Returns
    -------
    Plain data for JSON; every key is explained in the glossary (`keys.glossary`), `schema.report_schema`
    describes it. Numbers have six significant digits, except the transform and the recipe.
    """
    worked = _with_soundness(design, examined or Examined())
    numbers = measured if measured is not None else measured_of(design, worked)
    sections = {**_head(design, worked, numbers, identity), **_sections(design, worked, numbers)}
    report = {key: plain(value, key in _EXACT) for key, value in sections.items()}
    steps = {name: round(float(s), 3) for name, s in (timings or {}).items()}
    report["timings"] = {"steps_s": steps, "total_s": round(sum(steps.values()), 3)}
    return cast(FitReport, report)  # the types are made from the glossary, and tests hold each report to it


def _head(
    design: Design, worked: Examined, numbers: Measured, identity: Identity | None
) -> dict[str, object]:
    """Whose design it is, what is judged, and what was said on the way."""
    verdicts = judge(numbers)
    return {
        "format": FORMAT,
        "title": design.recipe.title,
        "kind": design.recipe.kind,
        "identity": identity.as_dict() if identity is not None else None,
        "cautions": [vars(caution) for caution in CAUTIONS],
        "summary": summary(verdicts),
        "verdicts": [verdict.as_dict() for verdict in verdicts],
        "remarks": [
            _remark(r) for r in (*design.remarks, *_more_remarks(worked.prediction, worked.second_pose))
        ],
    }


def _sections(design: Design, worked: Examined, numbers: Measured) -> dict[str, object]:
    """Everything that is known of the design, by section."""
    prepared, prediction = design.prepared, worked.prediction
    return {
        "scan": parts.scan_section(prepared, numbers.scan),
        "scan_to_design": prepared.scan_to_design,
        "landmarks": parts.landmarks_section(prepared),
        "sizing": sizing_section(prepared, design.recipe.prediction.sizing),
        "seal_line": parts.seal_section(design),
        "trust": trust_section(design),
        "contact": parts.contact_section(design),
        "cushion": cushion_section(design),
        "contact_surface": surface_section(design),
        "contact_face": contact_face_section(design, worked.plans),
        "clearance": parts.clearance_section(design),
        "wall": parts.wall_section(design),
        **own_section(design),
        "volumes": parts.volumes_section(design),
        "masses": parts.masses_section(design),
        "hang": hang_section(design),
        "filter": parts.filter_section(design),
        "breathing": breathing_section(breathing_by(design, prediction)),
        "parts": _parts(design, worked.soundness),
        "hardware": hardware_section(design),
        "assembly": assembly_section(worked.assembly),
        "printing": printing_section(worked.plans, worked.rings),
        "ways_up": ways_section(worked.ways),
        "prediction": prediction_section(prediction),
        "aims": aims_section(aims_of(design, worked)),
        "tried": tried_section(worked.tried),
        "second_pose": second_pose_section(worked.second_pose),
        "stations": stations_section(design, prediction),
        "recipe": json.loads(recipe_to_json(design.recipe)),
        "versions": versions(),
    }


def _with_soundness(design: Design, examined: Examined) -> Examined:
    """The same with the soundness of every part."""
    missing = {
        name: soundness_of(solid.mesh, name, expected_genus(design, name))
        for name, solid in design.parts.items()
        if name not in examined.soundness
    }
    return replace(examined, soundness={**examined.soundness, **missing})


def report_json(report: FitReport) -> str:
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


def _remark(remark: Remark) -> dict[str, object]:
    where = remark.where
    return {
        "level": remark.level,
        "text": remark.text,
        "role": where.role,
        "key": where.key,
        "point_mm": list(where.point) if where.point else None,
        "frame": where.frame,
    }


def _parts(design: Design, known: Mapping[str, Soundness]) -> dict[str, object]:
    """Size, triangles and soundness of every part."""
    out: dict[str, object] = {}
    for name, solid in design.parts.items():
        mesh = solid.mesh
        out[name] = {
            "triangles": len(mesh.faces),
            "vertices": len(mesh.vertices),
            "bounding_box_mm": mesh.bounds,
            "size_mm": mesh.extents,
            "area_mm2": mesh.area,
            "in_place": ring_port(design.ports, name) is not None,
            "soundness": known[name].as_dict(),
        }
    return out


def expected_genus(design: Design, part: str) -> int | None:
    """Through-holes a part should have; None where spokes, grids, choices or a hand make it vary.

    A body is a ring (from the face opening through the first port); every further port and every lug
    slot is one more hole, and so are the maker's own.
    """
    if part in design.edited:
        return None
    if part == "tube":
        return 1
    if design.own is not None:
        return design.own.holes if part == design.main else None
    if part != "body":
        return None
    return len(design.ports) + len(design.straps) + design.more_holes


def plain(value: object, exact: bool = False) -> Json:
    """Arrays, tuples and NumPy numbers as plain data; numbers that are not finite become None."""
    if isinstance(value, Mapping):
        return {str(key): plain(item, exact) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return plain(value.tolist(), exact)
    if isinstance(value, list | tuple):
        return [plain(item, exact) for item in value]
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return _number(float(value), exact)
    if value is None or isinstance(value, str):
        return value
    raise TypeError(f"The report cannot hold a {type(value).__name__}.")


def _number(value: float, exact: bool) -> float | None:
    if not math.isfinite(value):
        return None
    # Nothing here means anything below 1e-9; adding zero turns -0.0 into 0.0.
    return value if exact else float(f"{round(value, 9):.{DIGITS}g}") + 0.0
