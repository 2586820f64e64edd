"""One scan after the other, prepared and designed once for all tests that look at it."""

from __future__ import annotations

import pytest

pytest.register_assert_rewrite(
    *(f"main_job.{name}" for name in ("contact", "doors", "entry", "parts", "wall"))
)

from .cases import EVERY, Case, case_of  # noqa: E402 - the rewriting must come first


@pytest.fixture(scope="session", params=EVERY)
def case(request, tmp_path_factory) -> Case:
    """A scan and its default design; pytest runs all tests of a scan before the next one."""
    return case_of(request.param, tmp_path_factory.mktemp("scan"))
