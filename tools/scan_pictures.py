"""Pictures of docs/scan.md: how an invented wearer is scanned well and badly, from the procedural head.

``python tools/scan_pictures.py`` writes docs/pictures/scan-*.png with the windowless renderer.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from sealwright.designing.prepare import prepare
from sealwright.designing.sketch import sketch
from sealwright.errors import DesignError
from sealwright.mesh import Floats, TriMesh
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.render.pictures import png_bytes, render, view_of
from sealwright.render.scene import Colour, Scene, Shown, ball, line_tube
from sealwright.report.refusal_picture import picture_on_face
from sealwright.scan.landmark_names import DEFINITIONS

from demo_scenes.expression import Expression
from demo_scenes.head_grid import whole_sheet
from demo_scenes.patches import tidy
from demo_scenes.procedural_head import make_head, sculpted
from demo_scenes.wearers import MARLO

OUT = Path(__file__).resolve().parents[1] / "docs" / "pictures"
SKIN: Colour = (0.86, 0.73, 0.64)
HAIR: Colour = (0.35, 0.27, 0.22)
CLOTH: Colour = (0.36, 0.44, 0.56)
SENSOR: Colour = (0.13, 0.45, 0.70)
CARD: Colour = (0.30, 0.55, 0.38)
SIZE, TRIANGLES = (480, 400), 60_000
View = str | tuple[float, float, float]


def face(mesh: TriMesh, lowest_mm: float = -115.0) -> TriMesh:
    """The head in front of the ears and above a height."""
    middle = mesh.corners.mean(axis=1)
    return mesh.submesh((middle[:, 1] < 95.0) & (middle[:, 2] > lowest_mm) & (middle[:, 2] < 95.0))


def open_mouth() -> TriMesh:
    """The sculpted head with its jaw open by 13 degrees."""
    vertices, faces = whole_sheet(sculpted()[0], TRIANGLES)
    expression = Expression(jaw_deg=13.0)
    kept = faces[tidy(faces, ~expression.parted(vertices, faces))]
    moved = TriMesh(expression.moved(vertices), kept)
    return moved.submesh(np.ones(len(kept), dtype=bool))


def noisy(mesh: TriMesh) -> TriMesh:
    """A scan with 1.2 mm of noise, as from too little light or too far away."""
    error = np.random.default_rng(1).normal(scale=1.2, size=(len(mesh.vertices), 1))
    return TriMesh(mesh.vertices + error * mesh.vertex_normals, mesh.faces)


def strands(mesh: TriMesh) -> list[Shown]:
    """Hair that hangs over a cheek, and a collar up to the jaw."""
    shown = []
    for k in range(14):
        z = np.linspace(70.0, -62.0, 40)
        x = 56.0 - 0.9 * k + 5.0 * np.sin(z / 22.0 + k)
        shown.append(Shown(line_tube(_before(mesh, x, z, 5.0), 1.6, closed=False), HAIR, solid=False))
    for k in range(9):
        x = np.linspace(-64.0, 64.0, 60)
        z = np.full(60, -72.0 - 3.5 * k)
        shown.append(Shown(line_tube(_before(mesh, x, z, 9.0), 2.6, closed=False), CLOTH, solid=False))
    return shown


def _before(mesh: TriMesh, x: Floats, z: Floats, off_mm: float) -> Floats:
    """Points (n, 3) in front of the skin at places seen from the front."""
    front = mesh.vertices[mesh.vertex_normals[:, 1] < 0.0]
    near = [
        int(np.argmin((front[:, 0] - a) ** 2 + (front[:, 2] - b) ** 2)) for a, b in zip(x, z, strict=True)
    ]
    smooth = np.convolve(np.pad(front[near, 1], 3, mode="edge"), np.full(7, 1 / 7), mode="valid")
    return np.column_stack([x, smooth - off_mm, z])


def path() -> list[Shown]:
    """The way of a sensor: ear to ear at the height of the eyes, of the mouth, and from below the chin."""
    shown = []
    for height, drop in ((70.0, 0.0), (-10.0, 0.0), (-150.0, 60.0)):
        turn = np.radians(np.linspace(-80.0, 80.0, 17))
        reach = 300.0 - drop
        points = np.column_stack([reach * np.sin(turn), 60.0 - reach * np.cos(turn), np.full(17, height)])
        shown.append(Shown(line_tube(points, 2.0, closed=False), SENSOR, solid=False))
        shown += [Shown(ball(point, 7.0), SENSOR, solid=False) for point in points[::4]]
    return shown


def card() -> Shown:
    """A card (ISO/IEC 7810 ID-1, 85.6 mm by 54 mm) held beside the cheek, facing the sensor."""
    corners = np.array([[a, 15.0, b] for a in (82.0, 136.0) for b in (-60.0, 25.6)])
    return Shown(TriMesh(corners, np.array([[0, 2, 1], [1, 2, 3]], dtype=np.int32)), CARD, solid=False)


def scenes() -> dict[str, tuple[Scene, View]]:
    """All pictures by name."""
    head = make_head(MARLO, TRIANGLES).mesh
    below: View = (0.0, -1.0, -0.55)
    whole = Shown(face(head), SKIN, solid=False)
    return {
        "scan-good": (Scene((whole,)), below),
        "scan-no-chin": (Scene((Shown(face(head, -66.0), SKIN, solid=False),)), below),
        "scan-mouth-open": (Scene((Shown(face(open_mouth()), SKIN, solid=False),)), "three-quarter"),
        "scan-noise": (Scene((Shown(noisy(face(head)), SKIN, solid=False),)), "three-quarter"),
        "scan-hair-collar": (Scene((whole, *strands(head))), "front"),
        "scan-path": (Scene((Shown(head, SKIN, solid=False), *path())), (0.7, -1.0, 0.45)),
        "scan-card": (Scene((whole, card())), "front"),
    }


def refusal() -> bytes:
    """The picture of the refusal of a scan without the left cheek."""
    head = make_head(MARLO, TRIANGLES)
    mesh = face(head.mesh)
    part = mesh.submesh((mesh.corners[..., 0] < 32.0).all(axis=1))
    marks = {n: p for n, p in head.landmarks.items() if n in DEFINITIONS and p[0] < 30.0}
    prepared = run_to_end(prepare(part, Recipe(), marks))
    try:
        sketch(prepared, Recipe())
    except DesignError as refused:
        return picture_on_face(prepared, refused) or b""
    raise RuntimeError("The scan was not refused.")


def main() -> int:
    """Draw all of them."""
    (OUT / "scan-refusal.png").write_bytes(refusal())
    for name, (scene, view) in scenes().items():
        picture = render(scene, view_of(scene, view, SIZE), SIZE)
        (OUT / f"{name}.png").write_bytes(png_bytes(picture))
        print(name)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
