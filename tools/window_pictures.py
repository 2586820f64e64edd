"""Driver for a real Blender window: goes through the job on an invented head, a picture for each panel.

Runs inside Blender on timers (``blender --python``); pictures are taken with
ImageMagick's ``import``. Set GUI_OUT to the path of the last picture; the others are written beside it. The
heads file of the add-on tests lies at SEALWRIGHT_HEADS.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path

import bpy
import numpy as np

OUT = Path(os.environ["GUI_OUT"])
HEADS = os.environ.get("SEALWRIGHT_HEADS", "/in/data/heads.npz")
PAUSE_S = 0.6  # for the window to draw
LONGEST_S = 1500.0
STROKE_STEPS = 12


def view() -> dict[str, object]:
    """The window's 3D view, as a context override."""
    window = bpy.context.window_manager.windows[0]
    area = next(a for a in window.screen.areas if a.type == "VIEW_3D")
    region = next(r for r in area.regions if r.type == "WINDOW")
    return {"window": window, "area": area, "region": region}


def call(name: str, /, **arguments: object) -> None:
    """Start one of our operators as a click does (long ones run on their timer)."""
    with bpy.context.temp_override(**view()):
        result = getattr(bpy.ops.sealwright, name)("INVOKE_DEFAULT", **arguments)
    sys.stdout.write(f"[pictures] {name}: {result}\n")


def idle() -> bool:
    """Whether no job is running."""
    return not bpy.context.window_manager.sealwright.job_title


def picture(name: str, part: str = "SIDEBAR") -> None:
    """A picture of the sidebar, of the 3D view or of the whole screen; the last one is waited for."""
    path = OUT if name == "last" else OUT.with_name(f"{name}.png")
    command = ["import", "-window", "root"]
    if part != "SCREEN":
        window, area = bpy.context.window_manager.windows[0], view()["area"]
        bar = next(r for r in area.regions if r.type == "UI")
        left, width = (bar.x, bar.width) if part == "SIDEBAR" else (area.x, area.width - bar.width)
        command += ["-crop", f"{width}x{bar.height}+{left}+{window.height - bar.y - bar.height}", "+repage"]
    subprocess.run([*command, str(path)], check=True)
    sys.stdout.write(f"[pictures] {path.name}\n")


def parts() -> list[type]:
    """The parts of the panel Steps, as the extension lists them."""
    from importlib import import_module

    found: list[type] = import_module(
        next(m for m in sys.modules if m.endswith(".sealwright.ui.steps"))
    ).PARTS
    return found


def only_panels(*names: str) -> None:
    """Show only some steps, open; the others are taken out of the list until the next call."""
    _all[:] = _all or parts()
    parts()[:] = [part for part in _all if part.step in names]
    for name in names:
        setattr(bpy.context.window_manager.sealwright_folds, name, True)
    view()["area"].tag_redraw()


_all: list[type] = []


def scene() -> None:
    """An empty scene in millimetres with the head, seen from the front left."""
    for obj in list(bpy.data.objects):
        bpy.data.objects.remove(obj)
    with np.load(HEADS) as data:
        vertices, faces = data["head/vertices"], data["head/faces"]
    mesh = bpy.data.meshes.new("Scan of Ada")
    mesh.from_pydata(vertices.tolist(), [], faces.tolist())
    mesh.shade_smooth()
    obj = bpy.data.objects.new(mesh.name, mesh)
    bpy.context.collection.objects.link(obj)
    bpy.context.view_layer.objects.active = obj
    obj.select_set(True)
    bpy.context.scene.unit_settings.scale_length = 0.001
    where = view()
    space = where["area"].spaces.active
    space.clip_end, space.show_region_ui = 10000.0, True
    space.overlay.show_floor = space.overlay.show_axis_x = space.overlay.show_axis_y = False
    turn()


def turn(left_deg: float = 35.0, down_deg: float = 5.0, distance: float = 420.0) -> None:
    """Look at the mouth from the wearer's left."""
    from mathutils import Euler

    region = view()["area"].spaces.active.region_3d
    angle = (np.radians(90.0 - down_deg), 0.0, np.radians(left_deg))
    region.view_rotation = Euler(angle).to_quaternion()
    region.view_location, region.view_distance = (0.0, 0.0, -10.0), distance
    region.view_perspective = "PERSP"


def tab() -> None:
    """Open our tab in the sidebar."""
    area = view()["area"]
    sidebar = next(r for r in area.regions if r.type == "UI")
    sidebar.active_panel_category = "Sealwright"
    area.tag_redraw()


def story() -> Iterator[Callable[[], object] | str]:
    """The steps, one per tick; a text waits until no job is running."""
    yield scene
    yield tab
    yield lambda: only_panels("scan")
    yield lambda: picture("panel-start")
    yield lambda: call("add_wearer", name="Ada")
    yield lambda: call("take_scan")
    yield from (lambda: None for _ in range(3))  # the panel slides into its place
    yield lambda: picture("panel-scan")
    yield lambda: only_panels("landmarks")
    yield lambda: call("find_face")
    yield lambda: picture("job-running", "SCREEN")
    yield "wait"
    yield lambda: picture("panel-landmarks")
    yield lambda: only_panels("seal_line")
    yield lambda: call("lay_seal_line")
    yield "wait"
    yield lambda: picture("panel-seal-line")
    yield lambda: turn(35.0, 5.0, 330.0)
    yield lambda: picture("view-seal-line", "VIEW")
    yield from drawing()
    yield lambda: call("lay_seal_line")
    yield "wait"
    yield turn
    yield lambda: only_panels("body")
    yield lambda: call("preview_body")
    yield "wait"
    yield lambda: turn(50.0, 5.0, 330.0)
    yield lambda: picture("view-handles", "VIEW")
    yield lambda: call("build_parts")
    yield "wait"
    yield lambda: picture("panel-body")
    yield lambda: turn(35.0, 5.0, 330.0)
    yield lambda: picture("view-body", "VIEW")
    yield lambda: only_panels("ports")
    yield lambda: picture("panel-ports")
    yield lambda: only_panels("straps")
    yield lambda: picture("panel-straps")
    yield lambda: only_panels("checks")
    yield lambda: call("examine")
    yield "wait"
    yield lambda: picture("panel-checks")
    for kind in ("gap", "wall", "pressure", "overhang"):
        yield lambda kind=kind: call("show_map", kind=kind)
        yield lambda kind=kind: (turn(35.0, 5.0, 300.0))
        yield lambda kind=kind: picture(f"map-{kind}", "VIEW")
    yield lambda: call("show_map", kind="NONE")
    yield lambda: call("search_designs", tries=24, in_full=False)
    yield "wait"
    yield lambda: picture("view-choices", "VIEW")
    yield lambda: only_panels("print")
    yield lambda: picture("panel-print")
    yield lambda: only_panels("seal_line")
    yield harmed
    yield lambda: call("lay_seal_line")
    yield "wait"
    yield lambda: turn(10.0, 5.0, 330.0)
    yield lambda: picture("panel-trust")
    yield lambda: picture("view-trust", "VIEW")
    yield lambda: call("show_map", kind="skin")
    yield lambda: picture("map-skin", "VIEW")
    yield whole
    yield turn
    yield only_panels
    yield problem
    yield "wait"
    yield lambda: picture("problem")
    yield lambda: only_panels("scan", "landmarks", "seal_line", "body", "ports", "straps", "checks", "print")
    yield whole_again
    yield "wait"
    yield lambda: picture("window-dark", "SCREEN")
    yield light
    yield lambda: None
    yield lambda: picture("window-light", "SCREEN")
    yield lambda: only_panels("checks")
    yield lambda: picture("last", "SCREEN")


def harmed() -> None:
    """A second wearer, whose scan scatters on the left cheek and has a hole in the right one."""
    with np.load(HEADS) as data:
        vertices, faces = data["head/vertices"].copy(), data["head/faces"]
        places = [data[f"head/landmarks/cheilion_{side}"] * [1.9, 1.0, 0.6] for side in ("left", "right")]
    left, right = (np.linalg.norm(vertices - place, axis=1) for place in places)
    left = np.minimum(left, np.linalg.norm(vertices - places[0] - [0.0, 12.0, 0.0], axis=1))
    right = np.minimum(right, np.linalg.norm(vertices - places[1] - [0.0, 12.0, 0.0], axis=1))
    noise = np.where(left < 28.0, 0.7, 0.1)[:, None]  # mm; everywhere else as a good sensor has it
    vertices += np.random.default_rng(3).normal(size=vertices.shape) * noise
    faces = faces[~(right < 9.0)[faces].any(axis=1)]
    mesh = bpy.data.meshes.new("Scan of Ben")
    mesh.from_pydata(vertices.tolist(), [], faces.tolist())
    mesh.shade_smooth()
    obj = bpy.data.objects.new(mesh.name, mesh)
    bpy.context.collection.objects.link(obj)
    call("add_wearer", name="Ben")
    bpy.context.scene.sealwright.wearers[1].scan = obj


def whole() -> None:
    """Back to the first wearer; the other one is hidden by that."""
    bpy.context.scene.sealwright.active = 0


def whole_again() -> None:
    """The values of the preset that the maker began with, built again."""
    call("apply_preset", preset="dust-half-mask")
    call("build_parts")


def mouse(*what: object) -> None:
    """Move or press the mouse, as a hand does."""
    subprocess.run(["xdotool", *map(str, what)], check=True)


def on_screen(points: np.ndarray) -> list[tuple[int, int]]:
    """Where places in the world are on the screen, in pixels from its upper left corner."""
    from bpy_extras.view3d_utils import location_3d_to_region_2d
    from mathutils import Vector

    where, height = view(), bpy.context.window_manager.windows[0].height
    region, seen = where["region"], where["area"].spaces.active.region_3d
    flat = [location_3d_to_region_2d(region, seen, Vector(point)) for point in points.tolist()]
    return [(int(region.x + x), int(height - region.y - y)) for x, y in flat]


def drawing() -> Iterator[Callable[[], object] | str]:
    """A part of the line is drawn anew with the mouse, on the wearer's left cheek."""
    yield lambda: call("draw_seal_line")
    way: list[tuple[int, int]] = []

    def begin() -> None:
        line = bpy.context.scene.sealwright.wearers[0].seal_line
        curve = line.evaluated_get(bpy.context.evaluated_depsgraph_get()).to_mesh()
        points = np.array([vertex.co[:] for vertex in curve.vertices])
        left = points[(points[:, 0] > 30.0) & (points[:, 2] < 0.0)]
        left = left[np.argsort(-left[:, 2])]
        out = np.sin(np.linspace(0.0, np.pi, len(left)))[:, None] * [14.0, 0.0, 0.0]
        way.extend(on_screen(left + out))
        mouse("mousemove", *way[0], "mousedown", 1)

    yield begin
    for share in np.linspace(0.0, 1.0, STROKE_STEPS):  # Blender joins moves that come at once
        yield lambda share=share: mouse("mousemove", *along(way, share))
    yield lambda: None
    yield lambda: picture("view-draw-line", "VIEW")
    yield lambda: mouse("mouseup", 1)
    yield lambda: mouse("mousemove", 300, 20)  # no tooltip in the pictures


def along(way: list[tuple[int, int]], share: float) -> tuple[int, int]:
    """The place at a share of a polyline on the screen."""
    x, y = (np.interp(share * (len(way) - 1), np.arange(len(way)), axis) for axis in np.array(way).T)
    return int(x), int(y)


def light() -> None:
    """Blender's own light theme."""
    folders = bpy.utils.preset_paths("interface_theme")
    path = next(p for folder in folders for p in Path(folder).glob("*ight*.xml"))
    bpy.ops.script.execute_preset(filepath=str(path), menu_idname="USERPREF_MT_interface_theme_presets")


def problem() -> None:
    """A refusal with a place."""
    wearer = bpy.context.scene.sealwright.wearers[0]
    wearer.recipe.ports[0].connection.bore_mm = 45.0  # nothing is left of the wall of the thread
    try:
        call("build_parts")
    except RuntimeError as error:
        sys.stdout.write(f"[pictures] refused: {error}\n")


def tick(steps: Iterator[Callable[[], object] | str], started: float, waiting: list[bool]) -> float | None:
    """One step; jobs are waited for."""
    if time.monotonic() - started > LONGEST_S:
        os._exit(4)
    if waiting:
        waiting.pop() if idle() else None  # two more ticks after the job, for the window to draw
        return PAUSE_S
    step = next(steps, None)
    if step is None:
        bpy.ops.wm.quit_blender()
        return None
    if isinstance(step, str):
        waiting.extend([True, True])
    else:
        step()
    return PAUSE_S


def main() -> None:
    steps, started, waiting = story(), time.monotonic(), []

    def run() -> float | None:
        try:
            return tick(steps, started, waiting)
        except Exception:
            traceback.print_exc()
            sys.stdout.flush()
            os._exit(3)

    bpy.app.timers.register(run, first_interval=2.0)


main()
