"""A fit test as JSON: written, read, and described by a schema."""

from __future__ import annotations

from collections.abc import Mapping

from ..errors import BadRecipe, Where
from .exercises import EXERCISES
from .fit_test import LARGEST_FACTOR, SMALLEST_FACTOR, FitTest, check_fit_test, judge_fit_test

FORMAT = "sealwright-fit-test"
VERSION = 1


def fit_test_to_json(test: FitTest) -> dict[str, object]:
    """A fit test as plain JSON data, with its verdict beside it for readers.

    Raises
    ------
    BadRecipe : see `check_fit_test`.
    """
    found = judge_fit_test(test)
    return {
        "format": FORMAT,
        "version": VERSION,
        "date": test.date,
        "tester": test.tester,
        "instrument": test.instrument,
        "wearer": test.wearer,
        "notes": test.notes,
        "factors": {e.key: float(test.factors[e.key]) for e in EXERCISES if e.key in test.factors},
        "overall": found.overall,
        "verdict": found.verdict,
    }


def fit_test_from_json(data: object) -> FitTest:
    """Read a fit test from plain JSON data; overall and verdict are worked out again, never trusted.

    Raises
    ------
    BadRecipe : not our format or version, an unknown key, text that is none, or see `check_fit_test`.
    """
    if not isinstance(data, Mapping) or data.get("format") != FORMAT or data.get("version") != VERSION:
        raise BadRecipe(
            f"This is no fit test of format {FORMAT!r}, version {VERSION}.",
            Where("fit test", key="format"),
            "Give a file that this program has written.",
        )
    words = ("date", "tester", "instrument", "wearer", "notes")
    unknown = sorted(set(data) - {*words, "format", "version", "factors", "overall", "verdict"})
    if unknown:
        raise BadRecipe(
            f"The fit test has the unknown key {unknown[0]!r}.",
            Where("fit test", key=unknown[0]),
            "Remove it.",
        )
    for word in words:
        if not isinstance(data.get(word, ""), str):
            raise BadRecipe(f"{word} of the fit test is no text.", Where("fit test", key=word), "Give text.")
    factors = data.get("factors", {})
    if not isinstance(factors, Mapping):
        raise BadRecipe(
            "The fit test has no list of factors.", Where("fit test", key="factors"), "Give an object."
        )
    test = FitTest(dict(factors), **{word: data.get(word, "") for word in words})
    check_fit_test(test)
    return test


def fit_test_schema() -> dict[str, object]:
    """The JSON schema (draft 2020-12) of a fit test record."""
    factor = {"type": "number", "minimum": SMALLEST_FACTOR, "maximum": LARGEST_FACTOR}
    text = {"type": "string"}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "fit test by the exercises of 29 CFR 1910.134 Appendix A",
        "type": "object",
        "additionalProperties": False,
        "required": ["format", "version", "factors"],
        "properties": {
            "format": {"const": FORMAT},
            "version": {"const": VERSION},
            "date": text,
            "tester": text,
            "instrument": text,
            "wearer": text,
            "notes": text,
            "factors": {
                "type": "object",
                "additionalProperties": False,
                "properties": {e.key: {**factor, "description": e.text} for e in EXERCISES},
            },
            "overall": {"type": ["number", "null"]},
            "verdict": {"enum": ["pass", "warn", "fail", "incomplete"]},
        },
    }
