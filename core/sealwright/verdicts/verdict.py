"""One judged number: value, limit, verdict, reason, and what to do about it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

ORDER = ("fail", "warn", "pass")
OWN = "project rule, common practice, no source"


@dataclass(frozen=True)
class Verdict:
    """A number held against its limit.

    Attributes
    ----------
    key : path of the number in the report, or a name.
    topic : what is judged, in the maker's words.
    verdict : "pass", "warn" or "fail".
    value, unit : the number; None where there is none.
    limit, limit_text : the limit as a number (None where it is not one) and in words.
    reason : one sentence.
    fix : one imperative sentence; empty when passed.
    source, confidence : of the limit (V verified on a secondary page, M from memory or practice, C computed).
    """

    key: str
    topic: str
    verdict: str
    value: float | None
    unit: str
    limit: float | None
    limit_text: str
    reason: str
    fix: str
    source: str = OWN
    confidence: str = "M"

    def as_dict(self) -> dict[str, Any]:
        """The verdict for a JSON report."""
        return asdict(self)


def graded(good: bool, bearable: bool) -> str:
    """The verdict "pass" when good, else "warn" when bearable, else "fail"."""
    return "pass" if good else "warn" if bearable else "fail"


def summary_of(verdicts: list[dict[str, Any]]) -> dict[str, Any]:
    """Overall verdict, one headline, and what to do first: failures before warnings, in the order given.

    Even a clean design is only fit for a trial print: nothing here is a release for use.
    """
    count = {word: sum(v["verdict"] == word for v in verdicts) for word in ORDER}
    overall = next(word for word in ORDER if count[word] or word == "pass")
    todo = [v for word in ("fail", "warn") for v in verdicts if v["verdict"] == word]
    headline = {
        "fail": "Do not print yet: mend what failed first.",
        "warn": "Fit for a trial print once the warnings have been read. Not for use without a fit test.",
        "pass": "Fit for a trial print. Not for use without a fit test.",
    }[overall]
    return {
        "verdict": overall,
        "headline": headline,
        "failed": count["fail"],
        "warned": count["warn"],
        "passed": count["pass"],
        "do_first": [f"{v['topic']}: {v['reason']} {v['fix']}".strip() for v in todo],
    }
