"""A design of a search in full: final quality, every verdict, peak and leak as its report has them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..designing.design import Design, make_design
from ..designing.prepared import Prepared
from ..errors import DesignError
from ..predict.prediction import predict_steps
from ..predict.result import Prediction
from ..progress import run_to_end
from ..recipe import Recipe
from ..verdicts.judge import judge, summary
from ..verdicts.measure import Examined, measured_of
from ..verdicts.verdict import Grade, Verdict

Examination = tuple[tuple[Verdict, ...], Prediction | None]
Examine = Callable[[Design], Examination]


@dataclass(frozen=True)
class FullCheck:
    """What the report of a design says.

    Attributes
    ----------
    verdict : the worst of all verdicts; "fail" too where the design is refused.
    failed : topics that failed, or the refusal.
    peak_kpa, leak_share : of its prediction; infinite where the mask finds no hold.
    """

    verdict: Grade
    failed: tuple[str, ...] = ()
    peak_kpa: float = np.inf
    leak_share: float = np.inf

    def no_worse_than(self, start: FullCheck) -> bool:
        """Whether a report would not refuse it and neither peak nor leak is above the start's."""
        kept = self.peak_kpa <= start.peak_kpa and self.leak_share <= start.leak_share
        return self.verdict != "fail" and kept


def full_check(prepared: Prepared, recipe: Recipe, examine: Examine | None = None) -> FullCheck:
    """Design in full and judge.

    Parameters
    ----------
    prepared, recipe : the wearer and the design.
    examine : the whole examination of a design; None judges all but soundness and print of the parts.
    """
    try:
        design = run_to_end(make_design(prepared, recipe))
        verdicts, prediction = (examine or examined_without_parts)(design)
    except DesignError as refusal:
        return FullCheck("fail", (refusal.paragraph(),))
    failed = tuple(verdict.topic for verdict in verdicts if verdict.verdict == "fail")
    grade = summary(verdicts)["verdict"]
    if prediction is None or prediction.contact is None or prediction.fit is None:
        return FullCheck("fail", failed or ("no hold on the face",))
    leak = float(np.mean(1.0 / prediction.fit.fit_factors))
    return FullCheck(grade, failed, prediction.contact.peak_kpa, leak)


def examined_without_parts(design: Design) -> Examination:
    """Verdicts of a design but for soundness and print of its parts, and its prediction."""
    prediction = run_to_end(predict_steps(design))
    return judge(measured_of(design, Examined(prediction=prediction))), prediction
