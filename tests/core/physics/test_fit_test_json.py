"""The JSON record of a fit test, against its own schema by jsonschema."""

from __future__ import annotations

import json

import jsonschema
import pytest
from sealwright.errors import BadRecipe
from sealwright.physics.fit_test import FitTest
from sealwright.physics.fit_test_json import fit_test_from_json, fit_test_schema, fit_test_to_json

from .test_fit_test import measured


def test_round_trip_and_schema():
    test = FitTest(measured(), "2025-11-25", "A. Tester", "particle counter", "wearer 3", "first fit")
    data = json.loads(json.dumps(fit_test_to_json(test)))
    jsonschema.Draft202012Validator.check_schema(fit_test_schema())
    jsonschema.validate(data, fit_test_schema())
    back = fit_test_from_json(data)
    assert back == test
    assert data["verdict"] == "pass"
    assert data["overall"] == pytest.approx(119.4, abs=0.1)


def test_verdict_in_the_file_is_not_trusted():
    data = fit_test_to_json(FitTest(measured([40] * 7)))
    data["verdict"], data["overall"] = "pass", 4000
    assert fit_test_to_json(fit_test_from_json(data))["verdict"] == "fail"


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"format": "other"}, "format"),
        ({"version": 2}, "version"),
        ({"colour": 1}, "colour"),
        ({"tester": 3}, "tester"),
        ({"factors": [1, 2]}, "factors"),
        ({"factors": {"talking": -1}}, "from 1"),
    ],
)
def test_bad_records_are_refused(change, text):
    with pytest.raises(BadRecipe, match=text):
        fit_test_from_json({**fit_test_to_json(FitTest(measured())), **change})
    with pytest.raises(BadRecipe):
        fit_test_from_json([1, 2, 3])
