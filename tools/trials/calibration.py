"""What the confidence of a landmark is worth: errors on damaged scans of known truth, by confidence."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
from scipy.stats import spearmanr
from sealwright.errors import DesignError
from sealwright.scan.landmarks.face_frame import face_frame
from sealwright.scan.landmarks.proposal import propose_landmarks
from sealwright.scan.pose.orient import find_face
from sealwright.scan.repair.clean import clean

from .damage import damaged
from .faces import HEADS, SENSORS, face_scan, truth

KNOWN = HEADS + SENSORS
SOUGHT = ("sellion", "pronasale", "subnasale", "menton", "cheilion_left", "cheilion_right")
WRONG_MM = 5.0
"""Confidence speaks of landmarks within this of the truth."""

BINS = (0.0, 0.25, 0.5, 0.7, 0.85, 1.0)


@dataclass(frozen=True)
class Outcomes:
    """Landmarks proposed on damaged scans, each in a pose of its own.

    Attributes
    ----------
    refused : (seed, class of the refusal) of scans that gave none.
    kind : (n,) index into `SOUGHT`.
    error_mm, confidence : (n,).
    """

    refused: tuple[tuple[int, str], ...]
    kind: np.ndarray
    error_mm: np.ndarray
    confidence: np.ndarray

    def wrong_by_confidence(self) -> list[tuple[float, float, int, float]]:
        """For each bin of confidence: its ends, how many, and the share beyond 4 mm."""
        rows = []
        for low, high in pairwise(BINS):
            here = (self.confidence >= low) & (self.confidence < high)
            wrong = float((self.error_mm[here] > WRONG_MM).mean()) if here.any() else 0.0
            rows.append((low, high, int(here.sum()), wrong))
        return rows

    def rank_correlation(self, *names: str) -> float:
        """Spearman's rank correlation of confidence and error, of all or of some landmarks."""
        here = np.isin(self.kind, [SOUGHT.index(name) for name in names or SOUGHT])
        return float(spearmanr(self.confidence[here], self.error_mm[here]).statistic)

    def text(self) -> str:
        """The numbers, as `tools/landmark_errors.py` and the test print them."""
        lines = [f"confidence   number  beyond {WRONG_MM:g} mm"]
        lines += [
            f"{low:.2f}-{high:.2f}{number:>10}{100 * wrong:>10.0f} %"
            for low, high, number, wrong in self.wrong_by_confidence()
        ]
        corners = self.rank_correlation("cheilion_left", "cheilion_right")
        lines.append(
            f"rank correlation with the error: {self.rank_correlation():.2f}, cheilions {corners:.2f}"
        )
        lines.append(f"refused: {', '.join(f'seed {seed} {name}' for seed, name in self.refused) or 'none'}")
        return "\n".join(lines)


@cache
def outcomes(seeds: Iterable[int]) -> Outcomes:
    """Landmarks of one damaged open scan for each seed, against the truth."""
    refused, rows = [], []
    for seed in seeds:
        name = KNOWN[seed % len(KNOWN)]
        mesh, known, _ = damaged(face_scan(name), truth(name), seed)
        try:
            cleaned, _ = clean(mesh)
            marks = propose_landmarks(cleaned, find_face(cleaned))
            face_frame(marks)
        except DesignError as error:
            assert error.fix
            refused.append((seed, type(error).__name__))
            continue
        for kind, key in enumerate(SOUGHT):
            away = float(np.linalg.norm(marks.point(key) - known[key]))
            rows.append((kind, away, marks[key].confidence))
    kinds, errors, confidence = np.array(rows).T
    return Outcomes(tuple(refused), kinds.astype(int), errors, confidence)
