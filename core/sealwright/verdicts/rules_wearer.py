"""Rules on the wearer: size, proportions, a closed mouth, one person, the same person in a second pose."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..limits import limit
from .measured import Measured
from .rule import Finding, Rule, at_least, at_most, is_true

_AXIS_WORDS = {"across": "from side to side", "deep": "from front to back", "upright": "up and down"}


def _size(measured: Measured) -> Iterator[Finding]:
    wearer = measured.wearer
    if wearer is None:
        return
    length, said = wearer.face_length_mm, wearer.adult_said
    low, high = limit("adult_face_low"), limit("adult_face_high")
    least, most, stop = limit("adult_face_least"), limit("adult_face_most"), limit("adult_face_stop")
    overridden = said and not at_least(length, stop).holds
    yield Finding(
        key="wearer.face_length_mm",
        value=length,
        unit="mm",
        limit=low.value,
        basis=low,
        passes=(at_least(length, low), at_most(length, high)),
        # Who says that so small a face is an adult's is warned, not stopped.
        bears=(is_true(said) if overridden else at_least(length, least), at_most(length, most)),
        words={
            "low": low.value,
            "high": high.value,
            "least": least.value,
            "most": most.value,
            "length": length,
            "said": "The maker said for this run that the wearer is an adult." if said else "",
        },
        reason="reason_said" if overridden else "reason",
        fix="fix" if length < high.value else "fix_large",
    )


def _proportions(measured: Measured) -> Iterator[Finding]:
    wearer, good, most = measured.wearer, limit("stretch_unusual"), limit("stretch_impossible")
    if wearer is None:
        return
    found = wearer.stretch
    yield Finding(
        key="wearer.stretch_sigmas",
        value=found.sigmas,
        unit="1",
        limit=good.value,
        basis=good,
        passes=(at_most(found.sigmas, good),),
        bears=(at_most(found.sigmas, most),),
        words={
            "good": good.value,
            "most": most.value,
            "sigmas": found.sigmas,
            "axis": _AXIS_WORDS[found.axis],
            "percent": 100.0 * abs(found.factor - 1.0),
            "way": "larger" if found.factor > 1.0 else "smaller",
        },
    )


def _mouth(measured: Measured) -> Iterator[Finding]:
    if measured.wearer is None:
        return
    mouth = measured.wearer.mouth
    seen, wide = limit("lip_line_seen"), limit("lip_gap")
    gap_bears, seen_bears = limit("lip_gap_open"), limit("lip_line_lost")
    bared = not math.isfinite(mouth.deepest_mm)
    yield Finding(
        key="wearer.lip_gap_mm",
        value=mouth.gap_mm,
        unit="mm",
        limit=wide.value,
        basis=wide,
        passes=(at_most(mouth.gap_mm, wide), at_least(mouth.line_seen, seen)),
        bears=(at_most(mouth.gap_mm, gap_bears), at_least(mouth.line_seen, seen_bears)),
        words={
            "wide": wide.value,
            "open": gap_bears.value,
            "gap": mouth.gap_mm,
            "seen": mouth.line_seen,
            "least": seen.value,
            "lost": seen_bears.value,
            "inside": "with no skin between them" if bared else f"{mouth.deepest_mm:.0f} mm deep",
        },
        reason="reason" if at_most(mouth.gap_mm, wide).holds else "reason_open",
    )


def _smile(measured: Measured) -> Iterator[Finding]:
    if measured.wearer is None:
        return
    smile, most = measured.wearer.mouth.smile, limit("smile")
    yield Finding(
        key="wearer.smile_sigmas",
        value=smile,
        unit="1",
        limit=most.value,
        basis=most,
        passes=(at_most(smile, most),),
        bears=(),
        words={"most": most.value, "smile": smile},
    )


def _alone(measured: Measured) -> Iterator[Finding]:
    if measured.wearer is None:
        return
    other = measured.wearer.second_face
    count = 1.0 + float(other is not None)
    x, y, z = (0.0, 0.0, 0.0) if other is None else (float(c) for c in other.point)
    yield Finding(
        key="wearer.faces",
        value=count,
        unit="1",
        limit=limit("faces").value,
        basis=limit("faces"),
        passes=(at_most(count, limit("faces")),),
        bears=None,
        words={"apart": 0.0 if other is None else other.apart_mm, "x": x, "y": y, "z": z},
        reason="reason" if other is None else "reason_two",
    )


def _same_person(measured: Measured) -> Iterator[Finding]:
    pose = measured.second_pose
    if pose is None or pose.upper_face_mm is None or pose.nose_apart_mm is None:
        return
    near, far = limit("same_upper_face"), limit("other_upper_face")
    nose, nose_far = limit("same_nose"), limit("other_nose")
    yield Finding(
        key="second_pose.upper_face_mm",
        value=pose.upper_face_mm,
        unit="mm",
        limit=near.value,
        basis=near,
        passes=(at_most(pose.upper_face_mm, near), at_most(pose.nose_apart_mm, nose)),
        bears=(at_most(pose.upper_face_mm, far), at_most(pose.nose_apart_mm, nose_far)),
        words={
            "near": near.value,
            "far": far.value,
            "nose": nose.value,
            "nose_far": nose_far.value,
            "off": pose.upper_face_mm,
            "apart": pose.nose_apart_mm,
        },
    )


WEARER_RULES = (
    Rule("wearer.face_length_mm", _size),
    Rule("wearer.stretch_sigmas", _proportions),
    Rule("wearer.lip_gap_mm", _mouth),
    Rule("wearer.smile_sigmas", _smile),
    Rule("wearer.faces", _alone),
    Rule("second_pose.upper_face_mm", _same_person),
)
