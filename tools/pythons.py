"""Find the Python of a given version on this machine."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path


def find_python(version: str) -> str:
    """A Python of this version: this one, on the PATH, or under pyenv.

    Raises
    ------
    SystemExit : there is none.
    """
    if "{}.{}".format(*sys.version_info[:2]) == version:
        return sys.executable
    pyenv = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
    found = [
        shutil.which(f"python{version}"),
        *map(str, sorted(pyenv.glob(f"{version}*/bin/python{version}"))),
    ]
    for path in found:
        # pyenv's shims answer for versions that are not switched on, so ask before trusting one
        if path and subprocess.run([path, "-V"], capture_output=True, check=False).returncode == 0:
            return path
    raise SystemExit(f"Python {version} is needed and was not found (PATH, pyenv). Install it and try again.")


if __name__ == "__main__":
    print(find_python(sys.argv[1]))
