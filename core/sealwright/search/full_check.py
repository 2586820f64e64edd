"""A design of a search in full: final quality, every verdict, pressure and hold as its report has them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..designing.context import ChamberForm, OwnShape
from ..designing.design import Design
from ..designing.prepared import Prepared
from ..errors import DesignError
from ..limits import limit
from ..physics.worn import Worn
from ..predict.designed import design as design_job
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
    pressure_kpa : median over the draws of the pressure that 95 % of the skin stay below; infinite without
        hold.
    working : share of the draws that hold in every head position and reach the fit factor asked for.
    pull_n : sum of the strap pulls; an automatic one as it was settled.
    mass_g : of everything that hangs on the face.
    """

    verdict: Grade
    failed: tuple[str, ...] = ()
    pressure_kpa: float = np.inf
    working: float = 0.0
    pull_n: float = 0.0
    mass_g: float = 0.0

    def no_worse_than(self, start: FullCheck) -> bool:
        """Whether a report would not refuse it and it neither presses harder nor works less often.

        More than the share that is asked for counts for nothing: pulls are settled to reach just that.
        """
        works = self.working >= min(start.working, limit("hold_share").value)
        return self.verdict != "fail" and works and self.pressure_kpa <= start.pressure_kpa


def full_check(
    prepared: Prepared, recipe: Recipe, examine: Examine | None = None, form: ChamberForm | None = None
) -> FullCheck:
    """Design in full and judge.

    Parameters
    ----------
    prepared, recipe : the wearer and the design.
    examine : the whole examination of a design; None judges all but soundness and print of the parts.
    form : the maker's outer form of the chamber; None lets the program choose.
    """
    try:
        design = run_to_end(design_job(prepared, recipe, own=OwnShape(form)))
        verdicts, prediction = (examine or examined_without_parts)(design)
    except DesignError as refusal:
        return FullCheck("fail", (refusal.paragraph(),))
    failed = tuple(verdict.topic for verdict in verdicts if verdict.verdict == "fail")
    grade = summary(verdicts)["verdict"]
    if prediction is None or prediction.worn is None or prediction.summary is None:
        return FullCheck("fail", failed or ("no hold on the face",))
    return FullCheck(
        grade,
        failed,
        prediction.summary.pressure_p95_kpa,
        share_working(prediction.worn),
        prediction.summary.strap_pull_n,
        prediction.hanging.mass_g if prediction.hanging else 0.0,
    )


def share_working(worn: Worn) -> float:
    """Share of the draws that hold in every head position and reach the fit factor asked for."""
    return float((worn.holds & (worn.fit_factor >= limit("fit_factor").value)).mean())


def examined_without_parts(design: Design) -> Examination:
    """Verdicts of a design but for soundness and print of its parts, and its prediction."""
    prediction = run_to_end(predict_steps(design))
    return judge(measured_of(design, Examined(prediction=prediction))), prediction
