"""Fixtures shared by the core tests; what they need is imported when a test asks for them."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def scans_dir() -> Path:
    """The folder of open face data beside the checkout."""
    from main_job.wearers import SCANS

    if not SCANS.is_dir():
        pytest.skip("the open face data (../shared/scans) are not beside this checkout")
    return SCANS


@pytest.fixture(scope="session")
def marlo():
    """Marlo, an invented wearer, prepared from exact landmarks without searching for the face."""
    from main_job.wearers import marlo_prepared

    return marlo_prepared()
