"""Check the add-on's types against the stubs of the oldest Blender: ``mypy --strict`` on the stage.

The stubs live in an environment of their own (``.venv-stubs``), never beside a real bpy.
"""

from __future__ import annotations

import argparse
import os
import subprocess
from pathlib import Path

from build_extension import REPO, stage_sources
from pythons import find_python

STUBS = REPO / ".venv-stubs"
PACKAGES = ("fake-bpy-module-4.5==20260730", "mypy==1.18.2", "numpy>=2,<3")


def ensure_stubs() -> Path:
    """The Python of the environment with the stubs, made on first use."""
    python = STUBS / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if not (STUBS / ".ready").is_file():
        subprocess.run([find_python("3.13"), "-m", "venv", str(STUBS)], check=True)
        subprocess.run([str(python), "-m", "pip", "install", "--quiet", *PACKAGES], check=True)
        (STUBS / ".ready").touch()
    return python


def main() -> None:
    argparse.ArgumentParser(description=__doc__).parse_args()
    python = ensure_stubs()
    folder = REPO / "build" / "types"
    stage_sources(folder / "sealwright_extension")
    config = Path(__file__).with_name("mypy_addon.ini")
    command = [str(python), "-m", "mypy", "--config-file", str(config), "-p", "sealwright_extension"]
    raise SystemExit(subprocess.run(command, cwd=folder, check=False).returncode)


if __name__ == "__main__":
    main()
