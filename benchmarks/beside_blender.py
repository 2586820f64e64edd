"""A benchmark that runs itself beside bpy: outside it builds the package and starts, inside it measures."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
REPO = HERE.parent
NAME = "bl_ext.user_default.sealwright"


def parser_of(about: str | None) -> argparse.ArgumentParser:
    """The options of such a benchmark."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("--blender", default="5.2")
    parser.add_argument("--zip", type=Path, help="measure this package instead of building one")
    parser.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--heads", type=Path, help=argparse.SUPPRESS)
    return parser


def answer_of(script: str, arguments: argparse.Namespace, more: Sequence[str] = ()) -> dict[str, Any] | None:
    """What a script says beside bpy, as `say_answer` there; None when it failed, with its output told."""
    sys.path[:0] = [str(REPO / "tools"), str(REPO / "tests" / "package")]
    from build_extension import build, find_builder
    from run import BLENDERS, ensure_environment, heads_file, this_platform

    blender = next(b for b in BLENDERS if b.name == arguments.blender)
    ensure_environment(blender)
    package = arguments.zip or build([this_platform()], REPO / "build" / "benchmark", find_builder())[0]
    with tempfile.TemporaryDirectory() as folder:
        environment = dict(os.environ) | {"BLENDER_USER_RESOURCES": folder}
        environment.pop("PYTHONPATH", None)
        command = [str(blender.interpreter), script, "--inside", "--zip", str(package.resolve())]
        command += ["--heads", str(heads_file()), *more]
        done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
    # bpy 4.5 may crash while it unloads, after everything was said: what counts is the line
    line = next((x for x in done.stdout.splitlines() if x.startswith("RESULT ")), None)
    if line is None:
        sys.stderr.write(done.stdout[-3000:] + done.stderr[-6000:])
        return None
    if "--profile" in more:
        sys.stderr.write(done.stderr)
    answer: dict[str, Any] = json.loads(line.removeprefix("RESULT "))
    return answer


def installed_on_scan(arguments: argparse.Namespace) -> tuple[int, float]:
    """Beside bpy: install the package and lay the large scan; its triangles, and seconds of a native edit."""
    sys.path.insert(0, str(HERE))
    import bpy
    from contender_native import measure, mesh_from

    with np.load(arguments.heads) as data:
        vertices, faces = data["large/vertices"], data["large/faces"]
    native = measure(vertices, faces, "MANIFOLD", 2)["edit"]["wall_s"]
    bpy.ops.wm.read_homefile(use_empty=True)
    bpy.ops.extensions.package_install_files(
        filepath=str(arguments.zip), repo="user_default", enable_on_install=True
    )
    bpy.context.scene.unit_settings.scale_length = 0.001
    obj = bpy.data.objects.new("scan", mesh_from(vertices, faces))
    bpy.context.scene.collection.objects.link(obj)
    bpy.context.view_layer.objects.active = obj
    bpy.ops.sealwright.take_scan()
    return len(faces), native


def say_answer(answer: dict[str, Any]) -> None:
    """One line for the one who started this."""
    sys.stdout.write(f"RESULT {json.dumps(answer)}\n")
    sys.stdout.flush()
