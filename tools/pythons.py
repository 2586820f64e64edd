"""Find Pythons on this machine: a given version, the newest that will do, or those that are missing.

``python tools/pythons.py 3.13`` prints the path of that version; ``any`` prints one from 3.11 on (3.11 where
there is a choice); ``missing`` prints which of the versions that the tests want are absent, and fails when
``CI=true`` demands all of them.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

WANTED = ("3.11", "3.13")
"""Blender 4.5 LTS has Python 3.11, Blender 5.2 LTS has 3.13."""

USABLE = ("3.11", "3.13", "3.12", "3.14")
"""Versions that the core runs on, in the order in which one is taken."""


def find_python(version: str) -> str:
    """As `python_of`.

    Raises
    ------
    SystemExit : there is none.
    """
    path = python_of(version)
    if path is None:
        raise SystemExit(
            f"Python {version} is needed and was not found (PATH, pyenv). Install it and try again."
        )
    return path


def python_of(version: str) -> str | None:
    """A Python of this version: this one, on the PATH, or under pyenv; None where there is none."""
    if "{}.{}".format(*sys.version_info[:2]) == version:
        return sys.executable
    pyenv = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
    names = [f"python{version}", "python3", "python"]
    found = [
        *filter(None, map(shutil.which, names)),
        *map(str, sorted(pyenv.glob(f"{version}*/bin/python{version}"))),
    ]
    return next((path for path in found if version_of(path) == version), None)


def version_of(path: str) -> str:
    """Version of an interpreter, such as "3.11"; "" where it does not run, as pyenv's idle shims."""
    code = "import sys, venv, ensurepip; print('{}.{}'.format(*sys.version_info[:2]))"
    try:
        done = subprocess.run([path, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    except OSError:
        return ""
    return done.stdout.strip() if done.returncode == 0 else ""


def any_python() -> str | None:
    """The first usable Python of this machine."""
    return next((path for version in USABLE if (path := python_of(version))), None)


def missing() -> list[str]:
    """Versions that the tests want and the machine does not have."""
    return [version for version in WANTED if python_of(version) is None]


def main(asked: str) -> int:
    if asked == "missing":
        absent = missing()
        if absent:
            demanded = os.environ.get("CI", "").lower() in ("true", "1")
            words = (
                "are needed here (CI)" if demanded else "were not found (PATH, pyenv): not tested with them"
            )
            sys.stderr.write(f"Python {', '.join(absent)} {words}.\n")
            return int(demanded)
        return 0
    path = any_python() if asked == "any" else python_of(asked)
    if path is None:
        named = "from 3.11 to 3.14" if asked == "any" else asked
        sys.stderr.write(
            f"Python {named} is needed and was not found (PATH, pyenv). Install it and try again.\n"
        )
        return 1
    print(path)
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1]))
