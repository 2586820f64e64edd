"""Build the Blender extension: stage add-on and core, add the pinned wheels, validate, zip per platform.

``python tools/build_extension.py --platform linux-x64 --out dist`` uses Blender's own builder, which comes
with the bpy wheel and runs under plain Python; ``--builder`` names another copy of ``blender_ext.py``.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from recipe_fields import write_fields
from wheels import PLATFORMS, fetched, read_lock

REPO = Path(__file__).resolve().parents[1]
STAGE = REPO / "build" / "stage"
SKIP = shutil.ignore_patterns("__pycache__", "*.pyc", "*.blend1", ".mypy_cache", ".ruff_cache")


class BuildError(Exception):
    """The extension cannot be built from this tree."""


def find_builder(named: Path | None = None) -> Path:
    """Blender's ``blender_ext.py``: the one named, or out of a bpy wheel in one of the test environments."""
    if named is not None:
        if not named.is_file():
            raise BuildError(f"There is no builder at {named}.")
        return named
    pattern = "lib/python*/site-packages/bpy/*/scripts/addons_core/bl_pkg/cli/blender_ext.py"
    roots = [REPO / ".venv-bpy45", REPO / ".venv-bpy52", Path(sys.prefix)]
    for root in roots:
        for found in sorted(root.glob(pattern)):
            return found
    raise BuildError(
        "Blender's extension builder was not found. Run `make bpy-venvs`, or name it with --builder."
    )


def with_wheels(manifest: str, wheels: Sequence[str], platforms: Sequence[str]) -> str:
    """The manifest text with the wheel list added and the platforms narrowed to those built."""
    if re.search(r"^wheels\s*=", manifest, re.M):
        raise BuildError("The source manifest must not list wheels; the build writes the list.")
    named = ", ".join(f'"{p}"' for p in platforms)
    text, count = re.subn(r"^platforms\s*=.*$", f"platforms = [{named}]", manifest, flags=re.M)
    if count != 1:
        raise BuildError("The source manifest must have exactly one `platforms = [...]` line.")
    listed = "".join(f'  "./wheels/{name}",\n' for name in wheels)
    head, table, rest = text.partition("\n[permissions]")
    return f"{head}\nwheels = [\n{listed}]\n{table}{rest}"


def stage_sources(stage: Path = STAGE) -> Path:
    """An empty stage filled with add-on, core, tables and licence; no wheels yet."""
    if stage.exists():
        shutil.rmtree(stage)
    shutil.copytree(REPO / "blender_addon", stage, ignore=SKIP)
    shutil.copytree(REPO / "core" / "sealwright", stage / "core", ignore=SKIP)
    tables = stage / "core" / "tables"
    tables.mkdir(exist_ok=True)
    for table in sorted((REPO / "shared").glob("*.json")):
        shutil.copy2(table, tables / table.name)
    shutil.copy2(REPO / "LICENSE", stage / "LICENSE")
    write_fields(stage / "recipe_fields.json")
    return stage


def stage_wheels(stage: Path, platforms: Sequence[str]) -> None:
    """Put the locked wheels of some platforms into the stage and write the list into its manifest."""
    folder = stage / "wheels"
    folder.mkdir()
    names = []
    for path in fetched(w for w in read_lock() if w.platform in platforms):
        names.append(path.name)
        target = folder / path.name
        if not target.exists():
            try:
                os.link(path, target)
            except OSError:  # another file system
                shutil.copy2(path, target)
    manifest = stage / "blender_manifest.toml"
    text = with_wheels(manifest.read_text(encoding="utf-8"), sorted(set(names)), platforms)
    manifest.write_text(text, encoding="utf-8")


def run_builder(builder: Path, command: str, *arguments: str) -> None:
    """Run Blender's builder and fail loudly when it does, or when it only warns."""
    done = subprocess.run(
        [sys.executable, str(builder), command, *arguments], capture_output=True, text=True, check=False
    )
    if done.returncode != 0 or "warning" in (done.stdout + done.stderr).lower():
        raise BuildError(f"{builder.name} {command} failed:\n{done.stdout}{done.stderr}")


def build(platforms: Sequence[str], out: Path, builder: Path, stage: Path = STAGE) -> list[Path]:
    """Build one zip per platform.

    Parameters
    ----------
    platforms : Blender platform names, keys of `PLATFORMS`.
    out : folder for the zips; older zips of this extension in it are removed.
    builder : Blender's ``blender_ext.py``.
    stage : where the sources are gathered; builds beside each other need one each.

    Returns
    -------
    zips : the files made, sorted.
    """
    stage_sources(stage)
    stage_wheels(stage, platforms)
    run_builder(builder, "validate", str(stage))
    out.mkdir(parents=True, exist_ok=True)
    for old in out.glob("sealwright-*.zip"):
        old.unlink()
    run_builder(builder, "build", "--source-dir", str(stage), "--output-dir", str(out), "--split-platforms")
    zips = sorted(out.glob("sealwright-*.zip"))
    if len(zips) != len(platforms):
        raise BuildError(f"Expected {len(platforms)} packages, found {[z.name for z in zips]}.")
    return zips


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--platform", action="append", choices=list(PLATFORMS), help="only this platform")
    parser.add_argument("--out", type=Path, default=REPO / "dist")
    parser.add_argument("--builder", type=Path)
    parser.add_argument("--stage-only", action="store_true", help="stage the sources without wheels and stop")
    chosen = parser.parse_args()
    if chosen.stage_only:
        sys.stdout.write(f"{stage_sources()}\n")
        return
    platforms = chosen.platform or list(PLATFORMS)
    for path in build(platforms, chosen.out, find_builder(chosen.builder)):
        sys.stdout.write(f"{path} {path.stat().st_size / 1e6:.1f} MB\n")


if __name__ == "__main__":
    main()
