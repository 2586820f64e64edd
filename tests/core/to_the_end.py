"""Jobs of steps run to their end, for tests that only want what comes out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from sealwright.designing.design import Design
from sealwright.designing.prepared import Prepared
from sealwright.jobs.refit import Refit, Work, refit_steps
from sealwright.jobs.source import Source
from sealwright.physics.prediction_settings import PredictionSettings
from sealwright.predict.prediction import predict_steps
from sealwright.predict.result import Prediction
from sealwright.predict.second_pose import second_pose_steps
from sealwright.predict.second_pose_result import SecondPoseCheck
from sealwright.progress import Step, run_to_end
from sealwright.recipe import Recipe
from sealwright.search.evaluator import ImproveSettings
from sealwright.search.improve import Improvement, improve_design_steps

Tell = Callable[[Step], None]


def predict(
    design: Design, settings: PredictionSettings | None = None, tell: Tell | None = None
) -> Prediction:
    return run_to_end(predict_steps(design, settings), tell)


def check_second_pose(
    design: Design, second: Prepared, settings: PredictionSettings | None = None
) -> SecondPoseCheck:
    return run_to_end(second_pose_steps(design, second, run_to_end(predict_steps(design, settings))))


def improve_design(
    prepared: Prepared,
    recipe: Recipe,
    settings: ImproveSettings | None = None,
    assumed: PredictionSettings | None = None,
    keys: Sequence[str] | None = None,
    tell: Tell | None = None,
) -> Improvement:
    return run_to_end(improve_design_steps(prepared, recipe, settings, assumed, keys), tell)


def refit_many(
    sources: Sequence[Source], recipe: Recipe, out_dir: Path, how: Work, tell: Tell | None = None
) -> Refit:
    return run_to_end(refit_steps(sources, recipe, out_dir, how), tell)
