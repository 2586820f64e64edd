"""Wearers and designs for the tests of predictions, each built once."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from bare import bare_recipe
from sealwright.designing.design import Design, make_design
from sealwright.designing.prepare import prepare
from sealwright.designing.prepared import Prepared
from sealwright.designing.sketch import sketch
from sealwright.face.surface import face_chart, face_surface
from sealwright.mesh import TriMesh
from sealwright.physics.prediction_settings import PredictionSettings
from sealwright.predict.result import Prediction
from sealwright.progress import run_to_end
from sealwright.scan.read.mesh_file import read_scan
from to_the_end import predict
from trials.places import open_data

from demo_scenes.procedural_head import make_head
from demo_scenes.wearers import MARLO


@cache
def invented() -> Prepared:
    """An invented head that already lies in the face frame, with its exact landmarks."""
    head = make_head(MARLO, triangles=30_000)
    size = float(np.linalg.norm(head.landmarks["sellion"] - head.landmarks["menton"])) / 115.0
    chart = face_chart(size)
    near = np.linalg.norm(head.mesh.vertices - chart.centre, axis=1) < 150.0 * size
    skin = head.mesh.submesh(near[head.mesh.faces].all(axis=1))
    face = face_surface(skin, chart)
    sure = dict.fromkeys(head.landmarks, 1.0)
    return Prepared(face, dict(head.landmarks), sure, np.eye(4), "mm", 1.0, 1.0, skin)


@cache
def sketched() -> Design:
    """A design without solids on the invented head."""
    return sketch(invented(), bare_recipe())


@cache
def finished() -> Design:
    """A finished body with holder on the invented head."""
    return run_to_end(make_design(invented(), bare_recipe()))


def quick(**changes: object) -> PredictionSettings:
    """Prediction settings with few draws, so that tests stay fast."""
    settings = PredictionSettings(**changes)
    return replace(settings, fit=replace(settings.fit, samples=12))


@cache
def predicted() -> Prediction:
    """A prediction of the sketch with few draws."""
    return predict(sketched(), quick())


@cache
def scan(name: str) -> TriMesh:
    """A scan of the open face data, mm."""
    return read_scan(open_data(name)).mesh


@cache
def head_a() -> Prepared:
    """A head of the statistical head model, prepared from its scan."""
    return run_to_end(prepare(scan("head-a.ply"), bare_recipe()))
