"""Write invented heads for the tests inside Blender, where the generator itself is not installed."""

from __future__ import annotations

from pathlib import Path

import numpy as np


def write_heads(path: Path, triangles: int = 40_000) -> None:
    """Heads with their true landmarks, in one npz file; made again when the generator changed."""
    repo = Path(__file__).resolve().parents[2]
    newest = max(source.stat().st_mtime for source in (repo / "demo_scenes").glob("*.py"))
    if path.is_file() and path.stat().st_mtime >= newest:
        return
    from demo_scenes.procedural_head import Wearer, make_head
    from demo_scenes.wearers import TINKA

    out: dict[str, np.ndarray] = {}
    rows = {"head": (Wearer(), triangles), "large": (Wearer(), 200_000), "tinka": (TINKA, triangles)}
    for name, (wearer, wanted) in rows.items():
        head = make_head(wearer, wanted)
        out[f"{name}/vertices"], out[f"{name}/faces"] = head.mesh.vertices, head.mesh.faces
        out |= {f"{name}/landmarks/{key}": point for key, point in head.landmarks.items()}
    path.parent.mkdir(parents=True, exist_ok=True)
    np.savez(path, **out)
