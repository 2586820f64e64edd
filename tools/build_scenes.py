"""Build the demonstration scenes in the oldest Blender, so that newer ones can open them.

``python tools/build_scenes.py --out out/scenes``
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

import numpy as np

REPO = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(REPO), str(REPO / "tools"), str(REPO / "tests" / "package")]

from build_extension import build, find_builder  # noqa: E402
from run import BLENDERS, ensure_environment, this_platform  # noqa: E402

SCENES = 7  # as `demo_scenes.scenes` lists them


def write_heads(path: Path, triangles: int = 60_000) -> None:
    """The heads of all demo wearers, mm, face frame."""
    from demo_scenes.procedural_head import make_head
    from demo_scenes.wearers import WEARERS

    out: dict[str, np.ndarray] = {}
    for wearer in WEARERS:
        head = make_head(wearer, triangles)
        out[f"{wearer.name}/vertices"], out[f"{wearer.name}/faces"] = head.mesh.vertices, head.mesh.faces
    path.parent.mkdir(parents=True, exist_ok=True)
    np.savez(path, **out)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=REPO / "out" / "scenes")
    parser.add_argument("--zip", type=Path, help="use this package instead of building one")
    chosen = parser.parse_args()
    oldest = BLENDERS[0]
    ensure_environment(oldest)
    heads = REPO / "build" / "scenes" / "heads.npz"
    write_heads(heads)
    package = chosen.zip or build([this_platform()], REPO / "build" / "scenes", find_builder())[0]
    script = [str(oldest.interpreter), str(REPO / "demo_scenes" / "scenes.py")]
    arguments = ["--zip", str(package), "--heads", str(heads), "--out", str(chosen.out)]
    done = subprocess.run([*script, *arguments], check=False, capture_output=True, text=True)
    made = sorted(chosen.out.glob("*.blend"))
    # bpy 4.5 may crash while it unloads, after everything was written: what counts is the files
    sys.stdout.write("".join(f"{path} {path.stat().st_size / 1e6:.1f} MB\n" for path in made))
    if len(made) < SCENES:
        raise SystemExit(done.stdout + done.stderr)


if __name__ == "__main__":
    main()
