"""Tests of the installed extension. Run them through ``tests/package/run.py``."""

from __future__ import annotations

import importlib
import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

ZIP = os.environ.get("SEALWRIGHT_ZIP", "")
if not ZIP:
    pytest.exit("Run these tests with: python tests/package/run.py", returncode=3)

import bpy  # noqa: E402

NAME = "bl_ext.user_default.sealwright"


def pytest_sessionstart(session: pytest.Session) -> None:
    """Install the real zip the way a user does; a broken register() raises here."""
    bpy.ops.wm.read_homefile(use_empty=True)
    done = bpy.ops.extensions.package_install_files(filepath=ZIP, repo="user_default", enable_on_install=True)
    if done != {"FINISHED"} or NAME not in sys.modules:
        pytest.exit(f"The extension could not be installed: {done}", returncode=4)


@pytest.fixture(autouse=True)
def fresh():
    """Every test starts in an empty file.

    What the extension keeps by its inputs stays, as it does for a user; tests that want it gone clear it.
    """
    bpy.ops.wm.read_homefile(use_empty=True)
    yield


@pytest.fixture(scope="session")
def ext():
    """Import a module of the installed extension: ``ext("model.convert")``, ``ext("core.mesh")``."""

    def module(name: str):
        return importlib.import_module(f"{NAME}.{name}")

    return module
