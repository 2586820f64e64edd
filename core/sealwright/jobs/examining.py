"""What is worked out for a design: its parts, how they go together and print, and what wearing it is like."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..designing.assembly import assembling, require_assembled
from ..designing.design import Design
from ..designing.prepared import Prepared
from ..errors import DesignError
from ..parallel import beside
from ..predict.prediction import predict_steps
from ..predict.result import Prediction
from ..predict.second_pose import second_pose_steps
from ..predict.second_pose_result import SecondPoseCheck
from ..predict.tried import tried_steps
from ..predict.ways import ways_up
from ..printing.plan import PrintPlan
from ..progress import Job, run_to_end, with_steps
from ..report.fit_report import expected_genus
from ..solids.soundness import Soundness, require_sound
from ..verdicts.judge import judge
from ..verdicts.measure import Examined, measured_of
from ..verdicts.verdict import Verdict
from .clock import Clock, scaled
from .print_job import plan_part, rings_in_place


def examined_steps(design: Design, second: Prepared | None, clock: Clock) -> Job[Examined]:
    """Look at the parts and their print, and beside that predict a body."""
    with beside(examined_parts(design, clock.another())) as examined:
        try:
            predicted = yield from predicted_steps(design, second, clock)
        except DesignError:
            examined()  # a part that is not sound is told first
            raise
        yield clock.step(0.65, "Planning the print")
        found = examined()
    return replace(found, prediction=predicted.prediction, second_pose=predicted.second_pose)


def examined_parts(design: Design, clock: Clock, plans: Sequence[str] | None = None) -> Job[Examined]:
    """Look at the parts and their print, as a job of steps.

    Parameters
    ----------
    plans : parts whose print is planned; None for all, and for the soft rings printed in place.

    Raises
    ------
    BadSolid : a part would not be sound.
    DesignError : the parts do not go together.
    """
    sound: dict[str, Soundness] = {}
    for name, solid in design.parts.items():
        yield clock.step(0.38, "Examining the parts")
        sound[name] = require_sound(solid.mesh, name, expected_genus(design, name))
    together = assembling(design)
    assembly = yield from with_steps(together, lambda _: clock.step(0.39, "Putting the parts together"))
    if not design.edited:  # what a hand changed is written as it is; the verdict says that it does not fit
        require_assembled(assembly)
    planned: dict[str, PrintPlan] = {}
    for name in design.parts if plans is None else plans:
        yield clock.step(0.4, f"Planning the print of the {name}")
        planned[name] = plan_part(design, name, planned.get(design.main))
    rings = rings_in_place(design, planned) if plans is None else ()
    yield clock.step(0.6, "Comparing ways up")
    ways = ways_up(design, planned)
    clock.stop()
    return Examined(assembly=assembly, plans=planned, soundness=sound, rings=rings, ways=ways)


def predicted_steps(design: Design, second: Prepared | None, clock: Clock) -> Job[Examined]:
    """Predict a body, and look at it in a second pose, as a job of steps; nothing for other kinds."""
    if design.recipe.kind != "body":
        return Examined()
    prediction = yield from scaled(predict_steps(design), 0.4, 0.62, clock)
    moved: SecondPoseCheck | None = None
    if second is not None:
        moved = yield from scaled(second_pose_steps(design, second, prediction), 0.62, 0.65, clock)
    return Examined(prediction=prediction, second_pose=moved)


def examination(design: Design) -> tuple[tuple[Verdict, ...], Prediction | None]:
    """All verdicts of a design as its report has them, and its prediction; nothing is laid out.

    Raises
    ------
    BadSolid : a part would not be sound.
    """
    examined = run_to_end(examined_steps(design, None, Clock()))
    return judge(measured_of(design, examined)), examined.prediction


def with_tried(
    design: Design, examined: Examined, clock: Clock, part: tuple[float, float] = (0.65, 0.7)
) -> Job[Examined]:
    """The same with what would change the design, tried on its wearer; unchanged without a prediction.

    Parameters
    ----------
    part : of the whole job, from and to.
    """
    if examined.prediction is None:
        return examined
    tried = yield from scaled(tried_steps(design, examined.prediction), *part, clock)
    return replace(examined, tried=tried)
