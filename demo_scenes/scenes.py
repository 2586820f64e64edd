"""Demonstration scenes: built from code through the extension's own operators, into .blend files.

Runs beside bpy: ``python demo_scenes/scenes.py --zip PACKAGE --heads HEADS --out FOLDER``
(``tools/build_scenes.py`` does the rest). The wearers are invented; nobody was scanned.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))
import own_scenes


@dataclass(frozen=True)
class DemoScene:
    """One scene: file name, wearer of `demo_scenes.wearers`, the preset, and what is drawn or shaped then."""

    name: str
    wearer: str
    preset: str
    shaped: Callable[[], None] | None = None


SCENES = (
    DemoScene("dust-half-mask", "Marlo", "dust-half-mask"),
    DemoScene("half-mask-with-valve", "Marlo", "half-mask-with-valve"),
    DemoScene("quick-trimmed-tube", "Marlo", "quick-trimmed-tube"),
    DemoScene("small-wearer", "Tinka", "dust-half-mask"),
    DemoScene("nose-guard", "Marlo", "dust-half-mask", own_scenes.nose_guard),
    DemoScene("full-face-shell", "Marlo", "dust-half-mask", own_scenes.full_face_shell),
    DemoScene("sculpted-chamber", "Marlo", "twin-side-filters", own_scenes.sculpted_chamber),
)


def add_scan(name: str, vertices: np.ndarray, faces: np.ndarray) -> None:
    """An invented head as a mesh object in a scene in millimetres, selected."""
    import bpy

    bpy.context.scene.unit_settings.system = "METRIC"
    bpy.context.scene.unit_settings.scale_length = 0.001
    mesh = bpy.data.meshes.new(f"Scan of {name}")
    mesh.from_pydata(vertices.tolist(), [], faces.tolist())
    mesh.shade_smooth()
    obj = bpy.data.objects.new(mesh.name, mesh)
    bpy.context.scene.collection.objects.link(obj)
    bpy.context.view_layer.objects.active = obj


def build_scene(scene: DemoScene, vertices: np.ndarray, faces: np.ndarray) -> None:
    """Build one scene in an empty file: scan, wearer, preset, own shapes, all parts.

    Raises
    ------
    RuntimeError : an operator refused; its text says what, where and how to mend it.
    """
    import bpy

    bpy.ops.wm.read_homefile(use_empty=True)
    add_scan(scene.wearer, vertices, faces)
    bpy.ops.sealwright.add_wearer(name=scene.wearer)
    bpy.ops.sealwright.take_scan()
    bpy.ops.sealwright.apply_preset(preset=scene.preset)
    if scene.shaped is not None:
        bpy.ops.sealwright.find_face()
        scene.shaped()
    bpy.ops.sealwright.build_parts()
    bpy.context.scene.sealwright.greet = True


def install(package: Path) -> None:
    """Install and enable the extension the way a user does."""
    import bpy

    bpy.ops.extensions.package_install_files(
        filepath=str(package), repo="user_default", enable_on_install=True
    )


def main() -> None:
    """Build all scenes into a folder."""
    parser = argparse.ArgumentParser(description=__doc__)
    for name in ("zip", "heads", "out"):
        parser.add_argument(f"--{name}", type=Path, required=True)
    chosen = parser.parse_args()
    os.environ.setdefault("BLENDER_USER_RESOURCES", tempfile.mkdtemp(prefix="sealwright-scenes-"))
    import bpy

    install(chosen.zip.resolve())
    chosen.out.mkdir(parents=True, exist_ok=True)
    with np.load(chosen.heads) as heads:
        for scene in SCENES:
            build_scene(scene, heads[f"{scene.wearer}/vertices"], heads[f"{scene.wearer}/faces"])
            path = chosen.out.resolve() / f"{scene.name}.blend"
            bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True)


if __name__ == "__main__":
    main()
