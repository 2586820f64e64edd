"""Fixtures shared by the core tests; what they need is imported when a test asks for them."""

from __future__ import annotations

import pytest


@pytest.fixture(scope="session")
def marlo():
    """Marlo, an invented wearer, prepared from exact landmarks without searching for the face."""
    from main_job.wearers import marlo_prepared

    return marlo_prepared()
