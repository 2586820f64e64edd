"""A finished design on an invented wearer, its prediction and its report, built once for all report tests."""

from __future__ import annotations

from functools import cache

import numpy as np
from bare import bare_recipe
from sealwright.designing.assembly import assembly_of
from sealwright.designing.design import Design, make_design
from sealwright.designing.prepared import Prepared
from sealwright.face.surface import face_chart, face_surface
from sealwright.mesh import TriMesh
from sealwright.physics.fit_range import FitSettings
from sealwright.physics.prediction_settings import PredictionSettings
from sealwright.predict.result import Prediction
from sealwright.predict.second_pose import second_pose_steps
from sealwright.predict.second_pose_result import SecondPoseCheck
from sealwright.predict.targets import TARGETS
from sealwright.predict.tried import Tried, TriedRow
from sealwright.progress import run_to_end
from sealwright.recipe import BARE, recipe_from_json
from sealwright.report.fit_report import expected_genus, fit_report
from sealwright.solids.soundness import Soundness, soundness_of
from sealwright.verdicts.measure import Examined
from to_the_end import predict

from demo_scenes.procedural_head import make_head
from demo_scenes.wearers import MARLO

NASTY = "</script><script>alert(1)</script> \"R&D\" <b>mask</b> 'n°7'"


@cache
def prepared() -> Prepared:
    """An invented head that already lies in the face frame, with its exact landmarks."""
    head = make_head(MARLO, triangles=60_000)
    size = float(np.linalg.norm(head.landmarks["sellion"] - head.landmarks["menton"])) / 115.0
    chart = face_chart(size)
    near = np.linalg.norm(head.mesh.vertices - chart.centre, axis=1) < 150.0 * size
    skin: TriMesh = head.mesh.submesh(near[head.mesh.faces].all(axis=1))
    sure = dict.fromkeys(head.landmarks, 1.0)
    face = face_surface(skin, chart)
    return Prepared(face, dict(head.landmarks), sure, np.eye(4), "mm", 1.0, 1.0, skin)


@cache
def design() -> Design:
    """A finished body with holder."""
    recipe = recipe_from_json({"title": NASTY})
    return run_to_end(make_design(prepared(), recipe))


@cache
def tube() -> Design:
    """A plain tube trimmed to the face."""
    return run_to_end(make_design(prepared(), bare_recipe(kind="tube")))


@cache
def prediction() -> Prediction:
    """A prediction with few samples."""
    return predict(design(), few_samples())


def few_samples() -> PredictionSettings:
    """Prediction settings with eight samples, so that tests stay fast."""
    return PredictionSettings(fit=FitSettings(samples=8))


@cache
def same_pose() -> SecondPoseCheck:
    """The check of a second pose that is the first one again."""
    return run_to_end(second_pose_steps(design(), prepared(), prediction()))


@cache
def soundness() -> dict[str, Soundness]:
    """Soundness of the parts, which takes longest."""
    return {
        name: soundness_of(solid.mesh, name, expected_genus(design(), name))
        for name, solid in design().parts.items()
    }


@cache
def _report() -> dict:
    return fit_report(design(), examined(), timings={"design": 1.25})


def tried() -> Tried:
    """A made-up table of what was tried: how it is shown needs no true numbers."""
    names = [target.key for target in TARGETS]
    rows = (
        ("design", "this design", {}, (5.0, 0.93, 0.8), ()),
        ("remedy", "foam strip 10 mm thick", {"cushion.thickness_mm": 10.0}, (4.5, 0.96, 0.8), names[:2]),
        ("bare", "bare rigid band, to compare", dict(BARE), (12.5, 0.3, 0.1), ()),
    )
    return Tried(
        rows=tuple(
            TriedRow(
                role=role, what=what, values=values, numbers=dict(zip(names, n, strict=True)), helps=tuple(h)
            )
            for role, what, values, n, h in rows
        ),
        missed=tuple(names),
        remedies=6,
        not_worn=(),
        draws=8,
    )


def examined() -> Examined:
    """All that the report of the design stands on, but for its print."""
    return Examined(
        prediction=prediction(),
        assembly=assembly_of(design()),
        soundness=soundness(),
        second_pose=same_pose(),
        tried=tried(),
    )


def report() -> dict:
    """The report of the design, fresh enough to be changed."""
    import copy

    return copy.deepcopy(_report())
