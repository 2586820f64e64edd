"""The compiled libraries the extension carries: pinned by hash in ``wheels.lock.json``, fetched with pip.

``python tools/wheels.py`` fetches what is missing; ``--relock`` writes the lock file anew from `PINS`.
NumPy is never carried: Blender has its own. trimesh and embreex are for the command line only.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

LOCK = Path(__file__).with_name("wheels.lock.json")
CACHE = Path(__file__).resolve().parents[1] / "build" / "wheels"

# SciPy 1.17 accepts the NumPy 1.26 of Blender 4.5 as well as the NumPy 2 of later ones (tests/addon checks).
# threadpoolctl holds NumPy's own threads back while the core uses threads of its own.
PINS = {
    "manifold3d": "3.5.4",
    "libigl": "2.6.3",
    "scipy": "1.17.1",
    "lib3mf": "2.5.0",
    "threadpoolctl": "3.8.0",
}
PYTHONS = ("3.11", "3.13", "3.14")  # Blender 4.5 and 5.0; 5.1 and 5.2; distributions that build their own
PLATFORMS = {
    "windows-x64": ("win_amd64",),
    "macos-arm64": ("macosx_12_0_arm64",),
    "linux-x64": ("manylinux_2_28_x86_64", "manylinux_2_27_x86_64", "manylinux2014_x86_64"),
}


class WheelError(Exception):
    """A wheel is missing, not a wheel, or not the one that was locked."""


@dataclass(frozen=True)
class Wheel:
    """One locked wheel file.

    Attributes
    ----------
    file : file name as on the index, unchanged (Blender's rule).
    sha256 : hash of the file.
    platform : the Blender platform it is for.
    pythons : the Python versions it is for.
    """

    file: str
    sha256: str
    platform: str
    pythons: tuple[str, ...]

    @property
    def requirement(self) -> str:
        """The pinned requirement with its hash, as pip reads it."""
        name, version = self.file.split("-")[:2]
        return f"{name}=={version} --hash=sha256:{self.sha256}"


def sha256_of(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def read_lock(path: Path = LOCK) -> list[Wheel]:
    """The locked wheels, in the order of the file."""
    rows = json.loads(path.read_text(encoding="utf-8"))["wheels"]
    return [Wheel(r["file"], r["sha256"], r["platform"], tuple(r["pythons"])) for r in rows]


def pip_download(requirement: str, platform: str, python: str, folder: Path) -> None:
    """Let pip fetch one wheel for another machine into a folder."""
    tags = [part for tag in PLATFORMS[platform] for part in ("--platform", tag)]
    with tempfile.TemporaryDirectory() as temporary:
        wanted = Path(temporary) / "requirements.txt"
        wanted.write_text(requirement + "\n", encoding="utf-8")
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary=:all:"]
        command += ["--python-version", python, "--implementation", "cp", *tags]
        done = subprocess.run(
            [*command, "-d", str(folder), "-r", str(wanted)], capture_output=True, text=True, check=False
        )
    if done.returncode != 0:
        raise WheelError(f"pip could not fetch {requirement} for {platform}:\n{done.stderr[-2000:]}")


def fetched(wheels: Iterable[Wheel], cache: Path = CACHE) -> list[Path]:
    """Paths of the wheels in the cache, fetching what is missing; every hash is checked every time."""
    cache.mkdir(parents=True, exist_ok=True)
    paths = []
    for wheel in wheels:
        path = cache / wheel.file
        if not path.is_file() or sha256_of(path) != wheel.sha256:
            path.unlink(missing_ok=True)
            pip_download(wheel.requirement, wheel.platform, wheel.pythons[0], cache)
        if not path.is_file() or sha256_of(path) != wheel.sha256:
            raise WheelError(f"{wheel.file} is not the file that {LOCK.name} says.")
        paths.append(path)
    return paths


def relock(path: Path = LOCK) -> None:
    """Write the lock file anew: one row per wheel file and platform."""
    rows: dict[tuple[str, str], dict[str, object]] = {}
    for name, version in PINS.items():
        for platform in PLATFORMS:
            for python in PYTHONS:
                with tempfile.TemporaryDirectory() as temporary:
                    pip_download(f"{name}=={version}", platform, python, Path(temporary))
                    (file,) = Path(temporary).iterdir()
                    row = {"file": file.name, "sha256": sha256_of(file), "platform": platform, "pythons": []}
                row = rows.setdefault((file.name, platform), row)
                pythons = row["pythons"]
                assert isinstance(pythons, list)
                pythons.append(python)
    text = json.dumps({"wheels": list(rows.values())}, indent=1)
    path.write_text(text + "\n", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--relock", action="store_true", help="resolve the pins and write the lock file")
    parser.add_argument("--platform", action="append", choices=list(PLATFORMS), help="only this platform")
    chosen = parser.parse_args()
    if chosen.relock:
        relock()
    wanted = chosen.platform or list(PLATFORMS)
    for path in fetched(w for w in read_lock() if w.platform in wanted):
        sys.stdout.write(f"{path.name}\n")


if __name__ == "__main__":
    main()
