"""The package as it is built: what is listed is what is inside, pinned, and nothing of Blender's own."""

from __future__ import annotations

import re
import tomllib
import zipfile
from pathlib import Path

import pytest

REPO = Path(__file__).resolve().parents[2]

import build_extension  # noqa: E402
import wheels  # noqa: E402
from run import this_platform  # noqa: E402


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    out = tmp_path_factory.mktemp("zips")
    stage = tmp_path_factory.mktemp("stages") / "stage"  # the tests in Blender build one at the same time
    (made,) = build_extension.build([this_platform()], out, build_extension.find_builder(), stage)
    with zipfile.ZipFile(made) as archive:
        yield archive


def test_listed_wheels_are_the_wheels_inside(package):
    manifest = tomllib.loads(package.read("blender_manifest.toml").decode())
    inside = {name.removeprefix("wheels/") for name in package.namelist() if name.endswith(".whl")}
    assert {Path(name).name for name in manifest["wheels"]} == inside
    locked = {w.file for w in wheels.read_lock() if w.platform == this_platform()}
    assert inside == locked


def test_every_library_for_every_python_and_platform():
    rows = wheels.read_lock()
    for platform in wheels.PLATFORMS:
        for name in wheels.PINS:
            pythons = [
                p for w in rows if w.platform == platform and w.file.startswith(name) for p in w.pythons
            ]
            assert sorted(pythons) == sorted(wheels.PYTHONS), (platform, name)


def test_numpy_and_headless_libraries_stay_out():
    banned = re.compile(r"(numpy|trimesh|embreex|pillow|tqdm)-")
    assert not [w.file for w in wheels.read_lock() if banned.match(w.file.lower())]


def test_a_wheel_with_another_hash_is_refused(tmp_path):
    row = wheels.read_lock()[0]
    forged = wheels.Wheel(row.file, "0" * 64, row.platform, row.pythons)
    (tmp_path / row.file).write_bytes(b"not this one")
    with pytest.raises(wheels.WheelError):
        wheels.fetched([forged], tmp_path)


def test_versions_agree():
    manifest = tomllib.loads((REPO / "blender_addon" / "blender_manifest.toml").read_text())
    project = tomllib.loads((REPO / "pyproject.toml").read_text())
    assert manifest["version"] == project["project"]["version"]
    assert manifest["blender_version_min"] == "4.5.0"
    assert "wheels" not in manifest  # the source manifest is never changed by a build


def test_staged_code_is_relative(package):
    for name in package.namelist():
        if name.endswith(".py"):
            text = package.read(name).decode()
            found = re.findall(r"^\s*(?:from|import)\s+(sealwright|demo_scenes|core)\b", text, re.M)
            assert not found, f"{name} imports {found[0]} by its absolute name"


def test_core_never_speaks_to_blender(package):
    for name in package.namelist():
        if name.startswith("core/") and name.endswith(".py"):
            found = re.findall(
                r"^\s*(?:from|import)\s+(bpy|bmesh|mathutils|gpu)\b", package.read(name).decode(), re.M
            )
            assert not found, name


def test_no_leftovers(package):
    assert not [n for n in package.namelist() if re.search(r"__pycache__|\.pyc$|\.blend1$|^tests/", n)]
    assert {"LICENSE", "recipe_fields.json", "core/errors.py"} <= set(package.namelist())
