"""3MF through lib3mf: named parts with materials, millimetres, placed on the bed as they print."""

from __future__ import annotations

import ctypes
import hashlib
import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import ModuleType
from typing import Any

import numpy as np

from ..cautions import CAUTIONS
from ..errors import BackendUnavailable, BadSolid, UnwritableFile, Where
from ..mesh import Floats, TriMesh
from ..tables import table
from .arrange import OnBed, side_by_side
from .package import steady_package
from .rounding import rounded_part

NAMESPACE = "urn:sealwright:design"
"""Of the metadata that says whose design a file holds (3MF core: names of one's own need a namespace)."""

_TOLD = ("not_certified", "air", "facial_hair", "seal_check", "persons", "skin")
CAUTION = " ".join([c.text for c in CAUTIONS if c.key in _TOLD]) + (
    " The fit test is the work of a competent person; use skin-safe materials."
)


@dataclass(frozen=True, eq=False)
class PrintPart:
    """One part of a 3MF file.

    Attributes
    ----------
    name : shown by the slicer.
    mesh : closed part, mm, in its own frame.
    material : key of the materials table, or any name.
    colour : display colour, sRGB 0..1.
    orientation : 4x4 that turns the part as it prints, +Z up.
    assembly : parts of the same assembly are one object (a ring printed in its groove).
    """

    name: str
    mesh: TriMesh
    material: str = "petg"
    colour: tuple[float, float, float] = (0.30, 0.52, 0.60)
    orientation: Floats = field(default_factory=lambda: np.eye(4))
    assembly: str = ""

    @property
    def material_name(self) -> str:
        """The material as people call it."""
        row = table("materials")["materials"].get(self.material)
        return str(row["name"]) if row else self.material


@dataclass(frozen=True)
class About:
    """What the file says of itself.

    Attributes
    ----------
    title, designer, description : free text.
    cautions : always appended to the description.
    more : further metadata, kept under names of our own; nothing that changes from day to day.
    """

    title: str = "Mask body and holder"
    designer: str = "made with Sealwright"
    description: str = ""
    cautions: str = CAUTION
    more: Mapping[str, str] = field(default_factory=dict)


def plates_of(parts: Sequence[PrintPart], bed_mm: tuple[float, float]) -> list[list[PrintPart]]:
    """Parts by the plate they print on: as many plates as a bed of a width and depth needs."""
    found: list[list[PrintPart]] = []
    for part, on_bed in zip(parts, _places([part.mesh for part in parts], parts, bed_mm), strict=True):
        if on_bed.plate == len(found):
            found.append([])
        found[on_bed.plate].append(part)
    return found


def _places(
    meshes: Sequence[TriMesh], parts: Sequence[PrintPart], bed_mm: tuple[float, float]
) -> list[OnBed]:
    vertices = [mesh.vertices for mesh in meshes]
    return side_by_side(vertices, [p.orientation for p in parts], [p.assembly for p in parts], bed_mm)


def threemf_bytes(
    parts: Sequence[PrintPart],
    thumbnail_png: bytes | None = None,
    about: About | None = None,
    bed_width_mm: float = 205.0,
) -> bytes:
    """Parts of one plate as a 3MF file; the same bytes for the same parts.

    Parts of one assembly are components of one object: a slicer then keeps their places to each other.

    Parameters
    ----------
    parts : at least one; closed meshes, mm.
    bed_width_mm : rows of parts are no longer.
    thumbnail_png : picture for file browsers.
    about : title, designer, description.

    Raises
    ------
    BadSolid : a part is not closed, or cannot be stored in 32-bit numbers; or there are no parts.
    BackendUnavailable : lib3mf is missing.
    """
    if not parts:
        raise BadSolid("There is no part to write.", Where("3MF file"), "Make the design first.")
    backend = _backend()
    wrapper = backend.get_wrapper()
    model = wrapper.CreateModel()
    model.SetUnit(backend.ModelUnit.MilliMeter)
    model.SetLanguage("en-US")
    _say_about(model, about or About())
    meshes = [rounded_part(part.mesh, part.name) for part in parts]
    places = [on_bed.place for on_bed in _places(meshes, parts, (bed_width_mm, math.inf))]
    group, numbers = _materials(wrapper, model, parts)
    seed = hashlib.sha256()
    assemblies: dict[str, list[_Placed]] = {}
    for part, mesh, place, number in zip(parts, meshes, places, numbers, strict=True):
        seed.update(part.name.encode() + mesh.vertices.tobytes() + mesh.faces.tobytes() + place.tobytes())
        made = _add_mesh(backend, model, part, mesh)
        made.SetObjectLevelProperty(group.GetUniqueResourceID(), number)
        made.SetUUID(_steady_uuid(seed, "object"))
        if part.assembly:
            assemblies.setdefault(part.assembly, []).append(_Placed(part.name, made, place))
        else:
            _build(wrapper, model, made, place, part.name).SetUUID(_steady_uuid(seed, "item"))
    for together in assemblies.values():
        _add_assembly(backend, wrapper, model, together, seed)
    model.SetBuildUUID(_steady_uuid(seed, "build"))
    if thumbnail_png is not None:
        model.CreatePackageThumbnailAttachment().ReadFromBuffer(thumbnail_png)
    return steady_package(_written(backend, model))


def _backend() -> ModuleType:
    try:
        import lib3mf
    except ImportError as error:
        raise BackendUnavailable(
            f"The 3MF library lib3mf cannot be loaded ({error}).",
            Where("installation"),
            "Install it with 'pip install lib3mf', or write STL files only.",
        ) from error
    backend: ModuleType = lib3mf
    return backend


def _say_about(model: Any, about: About) -> None:
    """Metadata with the well-known names of the core specification; no dates, they would change the bytes."""
    group = model.GetMetaDataGroup()
    description = " ".join(part for part in (about.description, about.cautions) if part)
    for name, value in (
        ("Title", about.title),
        ("Designer", about.designer),
        ("Description", description),
        ("Application", "Sealwright"),
    ):
        group.AddMetaData("", name, _plain(value), "xs:string", True)
    for name, value in about.more.items():
        group.AddMetaData(NAMESPACE, name, _plain(value), "xs:string", True)


def _materials(wrapper: Any, model: Any, parts: Sequence[PrintPart]) -> tuple[Any, list[int]]:
    """One base material for each pair of material and colour, and the number of the one of each part."""
    group = model.AddBaseMaterialGroup()
    known: dict[tuple[str, tuple[int, ...]], int] = {}
    for part in parts:
        shade = tuple(round(255 * min(max(c, 0.0), 1.0)) for c in part.colour)
        if (part.material_name, shade) not in known:
            colour = wrapper.RGBAToColor(*shade, 255)
            known[part.material_name, shade] = group.AddMaterial(part.material_name, colour)
    keys = [(p.material_name, tuple(round(255 * min(max(c, 0.0), 1.0)) for c in p.colour)) for p in parts]
    return group, [known[key] for key in keys]


@dataclass(frozen=True, eq=False)
class _Placed:
    """A mesh object of an assembly, its name and its 4x4 place on the bed."""

    name: str
    thing: Any
    place: Floats


def _add_assembly(
    backend: ModuleType, wrapper: Any, model: Any, together: Sequence[_Placed], seed: hashlib._Hash
) -> None:
    """An object of components and its build item; what a component is made of must stand before it."""
    name, first = " with ".join(placed.name for placed in together), together[0].place
    whole = model.AddComponentsObject()
    whole.SetName(_plain(name))
    whole.SetType(backend.ObjectType.Model)
    whole.SetUUID(_steady_uuid(seed, f"object {name}"))
    for placed in together:
        component = whole.AddComponent(placed.thing, _transform(wrapper, np.linalg.inv(first) @ placed.place))
        component.SetUUID(_steady_uuid(seed, f"component {placed.name}"))
    _build(wrapper, model, whole, first, name).SetUUID(_steady_uuid(seed, f"item {name}"))


def _add_mesh(backend: ModuleType, model: Any, part: PrintPart, mesh: TriMesh) -> Any:
    """A mesh object."""
    made = model.AddMeshObject()
    made.SetName(_plain(part.name))
    made.SetType(backend.ObjectType.Model)
    vertices, faces = mesh.vertices.astype(np.float32), mesh.faces.astype(np.uint32)
    made.SetGeometry(
        (backend.Position * len(vertices)).from_buffer_copy(vertices.tobytes()),
        (backend.Triangle * len(faces)).from_buffer_copy(faces.tobytes()),
    )
    return made


def _build(wrapper: Any, model: Any, thing: Any, place: Floats, name: str) -> Any:
    """A build item of an object."""
    item = model.AddBuildItem(thing, _transform(wrapper, place))
    item.SetPartNumber(_plain(name))
    return item


def _transform(wrapper: Any, place: Floats) -> Any:
    """A 4x4 as the format has it: it multiplies rows, so ours turned over, without the last column."""
    transform = wrapper.GetIdentityTransform()
    for row in range(4):
        for column in range(3):
            transform.Fields[row][column] = ctypes.c_float(place[column, row])
    return transform


def _steady_uuid(seed: hashlib._Hash, use: str) -> str:
    """An identifier made of the content instead of chance."""
    return str(uuid.uuid5(uuid.NAMESPACE_OID, f"{seed.hexdigest()} {use}"))


def _plain(text: str) -> str:
    """Text without the control characters that XML cannot hold."""
    return "".join(c if c.isprintable() else " " for c in text)


def _written(backend: ModuleType, model: Any) -> bytes:
    """The package in memory: no room for temporary files is needed."""
    try:
        return bytes(model.QueryWriter("3mf").WriteToBuffer())
    except backend.ELib3MFException as error:
        raise UnwritableFile(
            f"The 3MF file cannot be put together: {error}.",
            Where("3MF file"),
            "Make the design again; report it if it comes back.",
        ) from error
