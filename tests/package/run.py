"""Build the extension, install it into real Blender modules (bpy), run ``tests/addon`` in both at once.

``python tests/package/run.py`` does both Blenders; ``--blender 4.5`` one of them. What stands after ``--``
goes to pytest. The environments have no compiled library of ours: those must come out of the zip.
"""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

REPO = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(REPO / "tools"))
from build_extension import build, find_builder  # noqa: E402
from heads import write_heads  # noqa: E402
from pythons import find_python, missing  # noqa: E402

OURS = ("manifold3d", "igl", "scipy", "lib3mf", "threadpoolctl", "trimesh", "embreex", "sealwright")


@dataclass(frozen=True)
class Blender:
    """A Blender to test in: its bpy version, the Python it needs, its cached environment."""

    name: str
    bpy: str
    python: str
    folder: Path
    exit_code_counts: bool

    @property
    def interpreter(self) -> Path:
        """The environment's Python."""
        return self.folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


# bpy 4.5 may crash while it unloads, after all tests: there only the result file counts.
BLENDERS = (
    Blender("4.5", "4.5.15", "3.11", REPO / ".venv-bpy45", exit_code_counts=False),
    Blender("5.2", "5.2.3", "3.13", REPO / ".venv-bpy52", exit_code_counts=True),
)


def ensure_environment(blender: Blender) -> None:
    """Make the environment when it is not there, and refuse one that holds our own libraries."""
    if not (blender.folder / ".ready").is_file():
        subprocess.run([find_python(blender.python), "-m", "venv", str(blender.folder)], check=True)
        packages = [f"bpy=={blender.bpy}", "pytest>=8"]
        pip = [str(blender.interpreter), "-m", "pip", "install", "--quiet", *packages]
        subprocess.run(pip, check=True)
        (blender.folder / ".ready").touch()
    probe = f"import importlib.util as u; print([n for n in {OURS} if u.find_spec(n)])"
    found = subprocess.run(
        [str(blender.interpreter), "-I", "-c", probe], capture_output=True, text=True, check=True
    ).stdout.strip()
    if found != "[]":
        raise SystemExit(f"{blender.folder.name} already holds {found}; the test would prove nothing.")


def this_platform() -> str:
    """Blender's name of the platform we run on."""
    system = {"Linux": "linux", "Darwin": "macos", "Windows": "windows"}[platform.system()]
    return system + ("-arm64" if platform.machine().lower() in ("arm64", "aarch64") else "-x64")


def counts_of(result: Path) -> tuple[int, int, int]:
    """Tests run, failed or broken, and skipped, from pytest's own result file; zeros when there is none."""
    if not result.is_file():
        return 0, 0, 0
    suite = ElementTree.parse(result).getroot().find("testsuite")
    if suite is None:
        return 0, 0, 0
    bad = int(suite.get("failures", 0)) + int(suite.get("errors", 0))
    return int(suite.get("tests", 0)), bad, int(suite.get("skipped", 0))


def heads_file() -> Path:
    """The invented heads for the tests, made once."""
    path = REPO / "build" / "package-test" / "heads.npz"
    write_heads(path)
    return path


def run_in(blender: Blender, package: Path, heads: Path, arguments: list[str]) -> bool:
    """Run the add-on tests in one Blender; true only when tests ran and none failed."""
    with tempfile.TemporaryDirectory(prefix="sealwright-") as temporary:
        result = Path(temporary) / "result.xml"
        environment = dict(os.environ)
        environment.pop("PYTHONPATH", None)
        environment |= {"SEALWRIGHT_ZIP": str(package), "BLENDER_USER_RESOURCES": f"{temporary}/blender"}
        environment["SEALWRIGHT_HEADS"] = str(heads)
        command = [str(blender.interpreter), "-m", "pytest", "-p", "no:cacheprovider"]
        command += ["--rootdir", str(REPO / "tests" / "addon"), "-c", os.devnull, f"--junitxml={result}"]
        targets = [] if any(a.startswith("tests/addon") for a in arguments) else ["tests/addon"]
        command += ["-q", *targets, *arguments]
        done = subprocess.run(
            command, cwd=REPO, env=environment, check=False, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        )
        ran, bad, skipped = counts_of(result)
    good = ran > skipped and bad == 0 and (done.returncode == 0 or not blender.exit_code_counts)
    verdict = "passed" if good else "FAILED"
    counted = f"{ran} ran, {bad} failed, {skipped} skipped, exit {done.returncode}"
    said = done.stdout.decode(errors="replace")
    sys.stdout.write(f"{said}Blender {blender.name}: {verdict}: {counted}\n")
    sys.stdout.flush()
    return good


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--blender", action="append", choices=[b.name for b in BLENDERS])
    parser.add_argument("--zip", type=Path, help="test this package instead of building one")
    parser.add_argument("--venvs-only", action="store_true", help="make the test environments and stop")
    parser.add_argument("arguments", nargs="*", help="for pytest, after --")
    chosen = parser.parse_args()
    blenders = [b for b in BLENDERS if not chosen.blender or b.name in chosen.blender]
    if not chosen.blender and os.environ.get("CI", "").lower() not in ("true", "1"):
        absent = missing()  # `make test` says which; on a machine without them nothing is held back
        blenders = [b for b in blenders if b.python not in absent]
    for blender in blenders:
        ensure_environment(blender)
    if chosen.venvs_only:
        return
    package = chosen.zip
    if package is None:
        out = REPO / "build" / "package-test"
        (package,) = build([this_platform()], out, find_builder())
    package, heads = package.resolve(), heads_file()
    with ThreadPoolExecutor() as side_by_side:
        runs = [side_by_side.submit(run_in, b, package, heads, chosen.arguments) for b in blenders]
        results = [run.result() for run in runs]
    raise SystemExit(0 if all(results) else 1)


if __name__ == "__main__":
    main()
