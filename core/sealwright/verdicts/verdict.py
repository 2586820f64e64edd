"""One judged number: value, limit, verdict, reason, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Literal, TypedDict

Grade = Literal["pass", "warn", "fail"]
ORDER: tuple[Grade, ...] = ("fail", "warn", "pass")


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """A number held against its limit; its fields are the keys of the JSON report.

    Attributes
    ----------
    key : path of the number in the report, or a name.
    topic : what is judged, in the maker's words.
    verdict : "pass", "warn" or "fail".
    value, unit : the number; None where there is none.
    value_text : the number as every door shows it.
    limit, limit_text : the limit as a number (None where it is not one) and in words.
    reason : one sentence.
    fix : one imperative sentence; empty when passed.
    common : what is to be known of every home-made mask, where that is all that a warning says; empty else.
    source, confidence : of the limit (V verified on a secondary page, M from memory or practice, C computed).
    """

    key: str
    topic: str
    verdict: Grade
    value: float | None
    unit: str
    value_text: str
    limit: float | None
    limit_text: str
    reason: str
    fix: str
    source: str
    confidence: str
    common: str = ""

    def as_dict(self) -> dict[str, str | float | None]:
        """The verdict for a JSON report."""
        return asdict(self)


class VerdictSummary(TypedDict):
    """All verdicts in one, as the JSON report holds it."""

    verdict: Grade
    headline: str
    failed: int
    warned: int
    passed: int
    do_first: list[str]
    common: list[str]


def ranked(verdicts: Iterable[Verdict]) -> list[Verdict]:
    """Failures first, then warnings, each in the order given."""
    return sorted(verdicts, key=lambda verdict: ORDER.index(verdict.verdict))


def verdict_summary(verdicts: Sequence[Verdict], headlines: dict[Grade, str]) -> VerdictSummary:
    """Overall verdict, one headline, and what to do first: failures before warnings, in the order given.

    Warnings that every home-made mask has count as none: what they say stands apart, so that a warning means
    something about this one. Even a clean design is only fit for a trial print: nothing here is a release
    for use.

    Parameters
    ----------
    verdicts : of one design.
    headlines : one for each overall verdict, see `sentences.headlines`.
    """
    own = [v for v in verdicts if not v.common]
    count = {word: sum(v.verdict == word for v in own) for word in ORDER}
    overall = next(word for word in ORDER if count[word] or word == "pass")
    todo = [v for v in ranked(own) if v.verdict != "pass"]
    return VerdictSummary(
        verdict=overall,
        headline=headlines[overall],
        failed=count["fail"],
        warned=count["warn"],
        passed=count["pass"],
        do_first=[f"{v.topic}: {v.reason} {v.fix}".strip() for v in todo],
        common=[v.common for v in verdicts if v.common],
    )
