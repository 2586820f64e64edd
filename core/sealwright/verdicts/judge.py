"""The one function that judges: every door shows what it says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from .measured import Measured
from .rule import Finding, Rule
from .rules_prediction import PREDICTION_RULES
from .rules_scan import SCAN_RULES
from .rules_shape import SHAPE_RULES
from .rules_use import USE_RULES
from .rules_wearer import WEARER_RULES
from .sentences import filled, headlines, number_text, sentences
from .verdict import Verdict, VerdictSummary, verdict_summary

RULES: tuple[Rule, ...] = (*WEARER_RULES, *SCAN_RULES, *SHAPE_RULES, *USE_RULES, *PREDICTION_RULES)
_DIGITS = 6  # significant: the same number in the panel and in the report


def judge(measured: Measured, rules: Sequence[Rule] = RULES) -> tuple[Verdict, ...]:
    """Judge what was measured; rules whose numbers are not there are passed over.

    Parameters
    ----------
    measured : all of a design, or what a build alone knows of it.
    rules : which, in the order of the verdicts.
    """
    found = (_said(rule, finding) for rule in rules for finding in rule.measure(measured))
    return tuple(_doubted(verdict, measured.doubts.get(verdict.key, "")) for verdict in found)


def summary(verdicts: Sequence[Verdict]) -> VerdictSummary:
    """All verdicts in one, with its headline."""
    return verdict_summary(verdicts, headlines())


def _said(rule: Rule, found: Finding) -> Verdict:
    """A finding with its verdict and its sentences."""
    words, grade = sentences(rule.name), found.grade
    value, limit = _rounded(found.value), _rounded(found.limit)
    shown = number_text(value, found.unit, found.share)
    numbers = {"value": value if value is not None else "", "shown": shown} | dict(found.words)
    return Verdict(
        key=found.key,
        topic=filled(words["topic"], numbers),
        verdict=grade,
        value=value,
        unit=found.unit,
        value_text=shown,
        limit=limit,
        limit_text=filled(words["limit"], numbers),
        reason=filled(words[found.reason], numbers),
        fix="" if grade == "pass" else filled(words[found.fix], numbers),
        source=found.basis.source,
        confidence=found.basis.confidence,
        common=filled(words.get("common", ""), numbers) if grade == "warn" else "",
    )


def _doubted(verdict: Verdict, doubt: str) -> Verdict:
    """A failure at a place that hangs on an uncertain landmark says so."""
    fails = verdict.verdict == "fail" and doubt
    return replace(verdict, fix=f"{verdict.fix} {doubt}".strip()) if fails else verdict


def _rounded(value: float | None) -> float | None:
    """Six significant digits: past what any of the numbers means, and the same at every door."""
    return None if value is None else float(f"{round(value, 9):.{_DIGITS}g}") + 0.0
