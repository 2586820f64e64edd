"""Fixtures shared by the core tests, what runs under which of two Pythons, and on which of two processes.

What a fixture needs is imported when a test asks for it.

Two runs of `make test` go through the core, one on each Python, and share what costs seconds: tests marked
`heavy` (left out by `make quick`) or `costly` (part of it). Each case of such a test runs in one of the two
at least. Cases are told apart by what varies between them (the wearer, the setting), so that each run builds
its own designs; a test all of whose cases fell to the other run does its first one here too. A test without
cases runs in one of the two: heavy ones where their file falls, since they share designs. Marked `both`,
where it alone exercises a module of the core, it runs in each.
"""

from __future__ import annotations

import os
import zlib

import pytest

PART = os.environ.get("SEALWRIGHT_PART", "")
"""``0`` or ``1``: what one half of the shared tests is told by; empty for all of them."""

SHARING = ("predict", "report", "scan", "cushion")
"""Folders whose files look at the same designs or scans: one process takes such a folder as a whole."""


@pytest.fixture(scope="session")
def marlo():
    """Marlo, an invented wearer, prepared from exact landmarks without searching for the face."""
    from main_job.wearers import marlo_prepared

    return marlo_prepared()


def pytest_collection_modifyitems(config, items: list[pytest.Item]) -> None:
    """Leave out what the other Python does, and put first what takes long, so that no process ends late."""
    elsewhere = _elsewhere(items) if PART else set()
    if elsewhere:
        config.hook.pytest_deselected(items=elsewhere)
    kept = [item for item in items if item not in elsewhere]
    units: dict[str, list[pytest.Item]] = {}
    for item in kept:
        units.setdefault(_unit(item.nodeid), []).append(item)
    items[:] = [
        item for name in sorted(units, key=lambda name: _turn(name, units[name])) for item in units[name]
    ]


def _elsewhere(items: list[pytest.Item]) -> set[pytest.Item]:
    """Shared tests that the other run does."""
    tests: dict[str, list[pytest.Item]] = {}
    for item in items:
        if _is_shared(item) and not item.get_closest_marker("both"):
            tests.setdefault(item.nodeid.split("[")[0], []).append(item)
    found = set[pytest.Item]()
    for cases in tests.values():
        here = [item for item in cases if _is_here(item)]
        if not here and hasattr(cases[0], "callspec"):
            here = cases[:1]
        found.update(set(cases) - set(here))
    return found


def _is_shared(item: pytest.Item) -> bool:
    return any(item.get_closest_marker(name) for name in ("heavy", "costly"))


def _is_here(item: pytest.Item) -> bool:
    case = getattr(item, "callspec", None)
    if case is not None:
        name = case.id
    else:
        name = item.nodeid.split("::")[0] if item.get_closest_marker("heavy") else item.nodeid
    return zlib.crc32(name.encode()) % 2 == int(PART)


def _turn(name: str, items: list[pytest.Item]) -> tuple[bool, int, int]:
    """Whole folders first, then files by how many costly tests they have, then by how many at all."""
    return name.endswith(".py"), -sum(map(_is_shared, items)), -len(items)


def _unit(nodeid: str) -> str:
    """What one process does alone: a file, or a folder whose files share designs."""
    file = nodeid.split("::")[0]
    folder = file.rpartition("/")[0]
    return folder if folder.rpartition("/")[2] in SHARING else file


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Units in the order of `pytest_collection_modifyitems`, the next one to the process that is free."""
    from xdist.scheduler import LoadScopeScheduling

    class ByUnit(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return _unit(nodeid)

    config.option.loadscopereorder = False
    return ByUnit(config, log)
