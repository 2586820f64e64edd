"""Small scenes for the tests: an invented head from the repository's own generator, placed any way."""

from __future__ import annotations

import os

import bpy
import numpy as np

HEADS = os.environ.get("SEALWRIGHT_HEADS", "")


def head_arrays(name: str = "head") -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Vertices (mm, face frame), faces and true landmarks of an invented head."""
    with np.load(HEADS) as data:
        marks = {key.split("/")[-1]: data[key] for key in data.files if key.startswith(f"{name}/landmarks/")}
        return data[f"{name}/vertices"], data[f"{name}/faces"], marks


def add_head(mm_per_unit: float = 1.0, name: str = "head") -> bpy.types.Object:
    """The head as an active mesh object; local coordinates are mm / mm_per_unit."""
    vertices, faces, _ = head_arrays(name)
    data = bpy.data.meshes.new(name)
    data.from_pydata((vertices / mm_per_unit).tolist(), [], faces.tolist())
    obj = bpy.data.objects.new(name, data)
    bpy.context.collection.objects.link(obj)
    bpy.context.view_layer.objects.active = obj
    obj.select_set(True)
    bpy.context.view_layer.update()
    return obj


def after(*steps: str) -> bpy.types.PropertyGroup:
    """The wearer of the head in a scene in millimetres, after some of our steps."""
    bpy.context.scene.unit_settings.scale_length = 0.001
    add_head()
    for step in steps:
        getattr(bpy.ops.sealwright, step)()
    return bpy.context.scene.sealwright.wearers[0]


def scene_stamp() -> tuple:
    """Everything of the scene that a refused step must not change."""
    seen = set(bpy.context.view_layer.objects)
    objects = tuple(
        (
            o.name,
            o.type,
            tuple(map(tuple, o.matrix_world)),
            o.data.name if o.data else "",
            dict_of(o),
            o in seen and o.hide_get(),
            tuple(c.target.name for c in o.constraints if getattr(c, "target", None)),
        )
        for o in sorted(bpy.data.objects, key=lambda o: o.name)
    )
    curves = tuple(
        (curve.name, tuple(tuple(p.co) for spline in curve.splines for p in spline.bezier_points))
        for curve in sorted(bpy.data.curves, key=lambda c: c.name)
    )
    meshes = []
    for mesh in sorted(bpy.data.meshes, key=lambda m: m.name):
        points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
        mesh.vertices.foreach_get("co", points)
        meshes.append((mesh.name, points.tobytes(), len(mesh.polygons)))
    collections = tuple(sorted((c.name, tuple(o.name for o in c.objects)) for c in bpy.data.collections))
    return objects, tuple(meshes), curves, collections, property_values(bpy.context.scene.sealwright)


def dict_of(obj: bpy.types.Object) -> tuple:
    """Custom properties as text."""

    def plain(value: object) -> str:
        return str(list(value)) if hasattr(value, "__len__") and not isinstance(value, str) else str(value)

    return tuple((key, plain(value)) for key, value in sorted(obj.items()))


def property_values(group) -> tuple:
    """All values of a property group, nested."""
    found = []
    for key in group.bl_rna.properties.keys():  # noqa: SIM118 (a Blender collection)
        if key == "rna_type":
            continue
        value = getattr(group, key)
        if isinstance(value, bpy.types.PropertyGroup):
            value = property_values(value)
        elif isinstance(value, bpy.types.bpy_prop_collection):
            value = tuple(property_values(item) for item in value)
        elif isinstance(value, bpy.types.ID):
            value = value.name
        elif hasattr(value, "__len__") and not isinstance(value, str):
            value = tuple(value)
        found.append((key, value))
    return tuple(found)


def arrays_of(obj: bpy.types.Object) -> np.ndarray:
    """Vertices (n, 3) of a mesh object, as they are stored."""
    points = np.empty(3 * len(obj.data.vertices), np.float32)
    obj.data.vertices.foreach_get("co", points)
    return points.reshape(-1, 3)


def stale(ext, wearer) -> bool:
    """Whether what stands for a wearer is out of date."""
    return ext("view.standing").stale(bpy.context, wearer)


CARD_MM = (85.60, 53.98)  # ISO/IEC 7810 ID-1, docs/standards section 8 (V63)


def add_card(mark: str, stretch: float = 1.0, sides: tuple[float, float] = CARD_MM, steps: int = 40) -> None:
    """A card before the forehead as part of the scan, with the size of the scan's own unit, marked.

    Parameters
    ----------
    mark : "SELECTED" selects its faces, "CURSOR" puts the 3D cursor on it.
    stretch : factor on the long side only: what a distorted scan does.
    """
    head = bpy.context.scene.sealwright.wearers[0].scan
    points = arrays_of(head).astype(np.float64)
    unit = (points[:, 2].max() - points[:, 2].min()) / np.ptp(head_arrays()[0][:, 2])  # units per mm
    x, z = np.meshgrid(np.linspace(-0.5, 0.5, steps), np.linspace(-0.5, 0.5, steps))
    flat = np.stack(
        [stretch * sides[0] * x.ravel(), np.full(x.size, -130.0), 100.0 + sides[1] * z.ravel()], 1
    )
    a = (np.arange(steps - 1)[None] + steps * np.arange(steps - 1)[:, None]).ravel()
    quads = np.stack([a, a + 1, a + steps + 1, a + steps], axis=1) + len(points)
    faces = [tuple(p.vertices) for p in head.data.polygons] + quads.tolist()
    made = bpy.data.meshes.new("scan with card")
    made.from_pydata(np.vstack([points, flat * unit]).tolist(), [], faces)
    made.polygons.foreach_set("select", np.arange(len(faces)) >= len(faces) - len(quads))
    head.data = made
    bpy.context.view_layer.update()
    state = bpy.context.scene.sealwright
    state.reference_mark = mark
    place = np.array(head.matrix_world) @ np.array([0.0, -130.0 * unit, 102.0 * unit, 1.0])
    bpy.context.scene.cursor.location = place[:3].tolist()


def skin_places(front: list[tuple[float, float]]) -> np.ndarray:
    """Places (k, 3) on the head, straight behind places (x, z) of the front view, mm."""
    head = bpy.context.scene.sealwright.wearers[0].scan
    found = [head.ray_cast((x, -200.0, z), (0.0, 1.0, 0.0))[1][:] for x, z in front]
    return np.array(found, dtype=np.float64)


def as_stroke(places: np.ndarray) -> list[dict]:
    """A stroke as operators take it."""
    return [{"name": "", "place": place} for place in places.tolist()]


def round_front(wide: float, high: float, x: float = 0.0, z: float = 0.0) -> np.ndarray:
    """A stroke round a place of the front view: an ellipse on the skin."""
    turns = np.linspace(0.0, 6.2, 100)
    return skin_places([(x + wide * np.sin(t), z + high * np.cos(t)) for t in turns])


def add_ball(radius: float, place: tuple[float, float, float], name: str = "ball") -> bpy.types.Object:
    """A closed ball as an active mesh object, mm."""
    bpy.ops.mesh.primitive_ico_sphere_add(subdivisions=4, radius=radius, location=place)
    obj = bpy.context.active_object
    obj.name = name
    bpy.context.view_layer.update()
    return obj
