"""Fixtures shared by the core tests; what they need is imported when a test asks for them."""

from __future__ import annotations

import os
import zlib

import pytest

PART = os.environ.get("SEALWRIGHT_PART", "")
"""``0`` or ``1``: of the cases of heavy tests those of one half run, the others under the other Python."""


@pytest.fixture(scope="session")
def marlo():
    """Marlo, an invented wearer, prepared from exact landmarks without searching for the face."""
    from main_job.wearers import marlo_prepared

    return marlo_prepared()


def pytest_collection_modifyitems(config, items: list[pytest.Item]) -> None:
    """Share the cases of heavy tests between two runs: every case runs in one at least, every test in both.

    Cases are told apart by what varies between them (the wearer, the setting), so that each run builds its
    own designs; a test without cases runs in both, and so does the first case of one that has none here.
    """
    if not PART:
        return
    tests: dict[str, list[pytest.Item]] = {}
    for item in items:
        if item.get_closest_marker("heavy"):
            tests.setdefault(item.nodeid.split("[")[0], []).append(item)
    elsewhere = set[pytest.Item]()
    for cases in tests.values():
        here = [item for item in cases if _is_here(item)] or cases[:1]
        elsewhere.update(set(cases) - set(here))
    config.hook.pytest_deselected(items=elsewhere)
    items[:] = [item for item in items if item not in elsewhere]


def _is_here(item: pytest.Item) -> bool:
    case = getattr(item, "callspec", None)
    return case is None or zlib.crc32(case.id.encode()) % 2 == int(PART)
