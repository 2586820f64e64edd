"""What cannot be right about a wearer's scan is said: size, proportions, mouth, two people, somebody else."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from sealwright.anthropometry.face_statistics import dimensions, normal_share
from sealwright.anthropometry.proportions import AxisStretch
from sealwright.limits import limit
from sealwright.scan.plausible.mouth import Mouth
from sealwright.scan.plausible.second_face import SecondFace
from sealwright.verdicts.judge import judge
from sealwright.verdicts.measured import (
    ClearanceMeasured,
    Measured,
    ScanMeasured,
    SecondPoseMeasured,
    WearerMeasured,
)
from sealwright.verdicts.verdict import Verdict

USUAL = WearerMeasured(
    face_length_mm=115.0,
    adult_said=False,
    stretch=AxisStretch("upright", 1.02, 0.4),
    mouth=Mouth(0.0, 3.0, 0.9, 0.2),
)


def judged(wearer: WearerMeasured = USUAL, pose: SecondPoseMeasured | None = None) -> dict[str, Verdict]:
    found = Measured(
        scan=ScanMeasured(noise_mm=0.0, smoothing_bound_mm=0.0),
        landmarks={},
        clearance=ClearanceMeasured(wanted_mm=None, nose_lips_mm=None, entry_mm=None),
        wearer=wearer,
        second_pose=pose,
    )
    return {verdict.key: verdict for verdict in judge(found)}


def test_a_usual_wearer_passes() -> None:
    found = {key: v.verdict for key, v in judged().items() if key.startswith("wearer")}
    assert len(found) == 5 and set(found.values()) == {"pass"}


@pytest.mark.parametrize(
    ("length", "said", "verdict"),
    [(99, False, "pass"), (96, False, "warn"), (88, False, "fail"), (76, True, "warn"), (142, False, "warn"),
     (157, False, "fail")],
)  # fmt: skip
def test_face_size(length: float, said: bool, verdict: str) -> None:
    found = judged(replace(USUAL, face_length_mm=float(length), adult_said=said))["wearer.face_length_mm"]
    assert found.verdict == verdict and f"{length} mm" in found.reason
    assert ("The maker said" in found.reason) == said


def test_size_limits_follow_the_survey() -> None:
    """ANSUR II (C): so many adults of either sex lie outside; by the normal law of the table."""
    length = dimensions()["face_length"]
    outside = {
        key: [
            normal_share((limit(key).value - m) / s)
            for m, s in zip(length.mean_mm, length.sd_mm, strict=True)
        ]
        for key in (
            "adult_face_stop",
            "adult_face_least",
            "adult_face_low",
            "adult_face_high",
            "adult_face_most",
        )
    }
    assert max(outside["adult_face_stop"]) < 1e-5  # nobody: 4.8 spreads
    assert max(outside["adult_face_least"]) < 1e-3
    assert max(outside["adult_face_low"]) < 0.01
    assert min(outside["adult_face_high"]) > 0.99
    assert min(outside["adult_face_most"]) > 0.999


@pytest.mark.parametrize(("sigmas", "verdict"), [(2.4, "pass"), (2.6, "warn"), (4.1, "fail")])
def test_proportions(sigmas: float, verdict: str) -> None:
    found = judged(replace(USUAL, stretch=AxisStretch("upright", 1.3, sigmas)))["wearer.stretch_sigmas"]
    assert found.verdict == verdict and "30 % larger up and down" in found.reason


@pytest.mark.parametrize(
    ("mouth", "key", "verdict"),
    [
        (Mouth(0.0, 6.8, 0.3, 0.0), "wearer.lip_gap_mm", "pass"),
        (Mouth(3.0, math.inf, 0.4, 0.0), "wearer.lip_gap_mm", "warn"),
        (Mouth(0.0, 0.1, 0.15, 0.0), "wearer.lip_gap_mm", "warn"),  # a sensor has spanned the opening
        (Mouth(18.0, math.inf, 0.2, 0.0), "wearer.lip_gap_mm", "fail"),
        (Mouth(0.0, 0.0, 0.0, 0.0), "wearer.lip_gap_mm", "fail"),
        (Mouth(0.0, 3.0, 0.9, 2.6), "wearer.smile_sigmas", "pass"),
        (Mouth(0.0, 3.0, 0.9, 5.0), "wearer.smile_sigmas", "warn"),
    ],
)
def test_mouth(mouth: Mouth, key: str, verdict: str) -> None:
    found = judged(replace(USUAL, mouth=mouth))[key]
    assert found.verdict == verdict
    assert verdict == "pass" or "Scan again" in found.fix


def test_two_people_fail_and_the_place_is_said() -> None:
    other = SecondFace(np.array([210.0, -3.0, 40.0]), 214.0, 0.9)
    found = judged(replace(USUAL, second_face=other))["wearer.faces"]
    assert found.verdict == "fail" and "214 mm away, at (210, -3, 40) mm" in found.reason


@pytest.mark.parametrize(
    ("off", "nose", "verdict"),
    [(0.6, 1.5, "pass"), (1.0, 1.5, "warn"), (0.6, 5.0, "warn"), (0.9, 9.0, "fail")],
)
def test_somebody_elses_second_pose(off: float, nose: float, verdict: str) -> None:
    pose = SecondPoseMeasured(lifted_share=0.0, largest_lift_mm=0.0, upper_face_mm=off, nose_apart_mm=nose)
    assert judged(pose=pose)["second_pose.upper_face_mm"].verdict == verdict
