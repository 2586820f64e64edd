"""The exercises of a quantitative fit test, as 29 CFR 1910.134 Appendix A lists them.

Eight of one minute each, the grimace 15 seconds (list and times V: pmc.ncbi.nlm.nih.gov/articles/PMC7114945
table I); the grimace does not count in the overall fit factor (V: Federal Register 74:3526, 2009, restating
it).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Exercise:
    """One exercise of the protocol.

    Attributes
    ----------
    key : name in files.
    text : what the wearer does.
    seconds : how long.
    counts : whether it counts in the overall fit factor.
    """

    key: str
    text: str
    seconds: int
    counts: bool = True


EXERCISES: tuple[Exercise, ...] = (
    Exercise("normal_breathing", "stand and breathe normally, without talking", 60),
    Exercise("deep_breathing", "stand and breathe slowly and deeply", 60),
    Exercise("head_side_to_side", "turn the head slowly from side to side, breathe in at each side", 60),
    Exercise("head_up_and_down", "move the head slowly up and down, breathe in looking up", 60),
    Exercise("talking", "talk slowly and loudly, read a text aloud", 60),
    Exercise("grimace", "smile and frown", 15, counts=False),
    Exercise("bending_over", "bend at the waist as if to touch the toes, or jog on the spot", 60),
    Exercise("normal_breathing_again", "stand and breathe normally once more", 60),
)
