"""The checks as a panel lists them: the same verdicts, failures first, each with the place to look at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..designing.design import Design
from ..mesh import Floats
from ..predict.result import Prediction
from ..trust.reasons import DOUBTFUL, RESCAN
from ..trust.verdicts import SealTrust, trust_of
from .judge import judge
from .measure import measured_of
from .places import worst_places
from .verdict import Grade, Verdict, ranked

_MAPS = {"contact.share": "gap", "contact.band_width_min_mm": "gap", "wall.min_mm": "wall"}


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where a check is at its worst.

    Attributes
    ----------
    point : (3,) mm in the face frame.
    map : the map that shows it, or "".
    """

    point: Floats
    map: str = ""


@dataclass(frozen=True, kw_only=True)
class CheckRow:
    """One row of the panel.

    Attributes
    ----------
    key : of the verdict.
    label : what is checked.
    value : what was found, with its unit.
    limit : what is asked.
    verdict : "pass", "warn" or "fail".
    reason : one sentence.
    fix : what to do about it; empty when passed.
    spot : where it is worst; None where there is no single place.
    """

    key: str
    label: str
    value: str
    limit: str
    verdict: Grade
    reason: str
    fix: str
    spot: Spot | None = None


def quick_rows(design: Design) -> list[CheckRow]:
    """The checks that a build alone knows: those of a report but for soundness, print and prediction."""
    return check_rows(judge(measured_of(design)), design)


def check_rows(
    verdicts: Iterable[Verdict], design: Design, prediction: Prediction | None = None
) -> list[CheckRow]:
    """The rows of a panel.

    Parameters
    ----------
    verdicts : of the design.
    design, prediction : where the places are taken from.
    """
    spots = spots_of(design, prediction)
    return [
        CheckRow(
            key=verdict.key,
            label=verdict.topic,
            value=verdict.value_text,
            limit=verdict.limit_text,
            verdict=verdict.verdict,
            reason=verdict.reason,
            fix=verdict.fix,
            spot=spots.get(verdict.key),
        )
        for verdict in ranked(verdicts)
    ]


def spots_of(design: Design, prediction: Prediction | None = None) -> dict[str, Spot]:
    """Where each measurement of a finished body is at its worst, and its map, by the key of the verdict."""
    found = {key: Spot(point=p, map=_MAPS.get(key, "")) for key, p in worst_places(design).items()}
    doubted = doubted_spot(trust_of(design))
    if doubted is not None:
        found["trust"] = doubted
    pressed = _pressed(design, prediction)
    if pressed is not None:
        found["prediction.comfort.high_kpa"] = pressed
    return found


def doubted_spot(trust: SealTrust | None) -> Spot | None:
    """The middle of the sector whose scanned skin can be trusted least; None where all are good."""
    for word in (RESCAN, DOUBTFUL):
        for sector in trust.sectors if trust is not None else ():
            if sector.verdict == word:
                return Spot(point=np.array(sector.point_mm))
    return None


def _pressed(design: Design, prediction: Prediction | None) -> Spot | None:
    """Where the mask is predicted to press hardest."""
    if prediction is None or prediction.contact is None or design.fit is None:
        return None
    points = design.fit.places[:, ::-1].reshape(-1, 3)  # the physics counts rows from the inner side
    return Spot(point=points[int(np.argmax(prediction.contact.pressure_kpa))], map="pressure")
