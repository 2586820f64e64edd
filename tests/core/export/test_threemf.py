"""3MF files against the rules of the core specification, by plain zip and XML reading and by trimesh.

Rules as read in the 3MF core specification (3MFConsortium/spec_core; verified there by the project's
standards notes), namespace and content type from memory.
"""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import manifold3d
import numpy as np
import pytest
import trimesh
from sealwright.errors import BadSolid
from sealwright.export.arrange import side_by_side
from sealwright.export.atomic import write_file
from sealwright.export.package import steady_package
from sealwright.export.threemf import CAUTION, About, PrintPart, plates_of, threemf_bytes
from sealwright.mesh import TriMesh, trimesh_of
from sealwright.render.pictures import png_bytes

CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
MODEL_RELATION = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
THUMBNAIL_RELATION = "http://schemas.openxmlformats.org/package/2006/relationships/metadata/thumbnail"
MODEL_TYPE = "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"
ON_ITS_SIDE = trimesh.transformations.rotation_matrix(np.radians(75), [1, 0, 0])


def taken(native: manifold3d.Manifold) -> TriMesh:
    raw = native.to_mesh64()
    return trimesh_of(np.array(raw.vert_properties[:, :3]), np.array(raw.tri_verts, dtype=np.int64))


@pytest.fixture(scope="module")
def parts() -> list[PrintPart]:
    shell = manifold3d.Manifold.sphere(40, 48) - manifold3d.Manifold.sphere(37, 48)
    body = shell - manifold3d.Manifold.cylinder(100, 15, 15, 48)
    groove = manifold3d.Manifold.cylinder(4, 22, 22, 48) - manifold3d.Manifold.cylinder(4, 18, 18, 48)
    holder = manifold3d.Manifold.cylinder(10, 25, 25, 48) - groove.translate((0, 0, 6))
    return [
        PrintPart("body", taken(body.translate((0.1, -70, 33))), "petg", (0.31, 0.51, 0.6), ON_ITS_SIDE),
        PrintPart('holder & "grid"', taken(holder), "petg", (0.9, 0.6, 0.2), assembly="holder"),
        PrintPart("ring", taken(groove.translate((0, 0, 6))), "tpu85a", (0.2, 0.2, 0.3), assembly="holder"),
    ]


@pytest.fixture(scope="module")
def thumbnail() -> bytes:
    return png_bytes(np.full((48, 64, 3), 200, dtype=np.uint8))


@pytest.fixture(scope="module")
def data(parts: list[PrintPart], thumbnail: bytes) -> bytes:
    return threemf_bytes(parts, thumbnail, About(title="Dust mask <demo>", description="For a trial."))


@pytest.fixture(scope="module")
def package(data: bytes) -> zipfile.ZipFile:
    return zipfile.ZipFile(io.BytesIO(data))


@pytest.fixture(scope="module")
def model(package: zipfile.ZipFile) -> ElementTree.Element:
    return ElementTree.fromstring(package.read("3D/3dmodel.model"))


def matrix_of(item: ElementTree.Element) -> np.ndarray:
    rows = np.array(item.get("transform", "").split(), dtype=float).reshape(4, 3)
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = rows[:3].T, rows[3]
    return matrix


def arrays_of(thing: ElementTree.Element) -> tuple[np.ndarray, np.ndarray]:
    vertices = np.array([[float(v.get(k)) for k in "xyz"] for v in thing.iter(CORE + "vertex")])
    faces = np.array([[int(t.get(k)) for k in ("v1", "v2", "v3")] for t in thing.iter(CORE + "triangle")])
    return vertices, faces


def test_package_has_content_types_and_root_relation(package: zipfile.ZipFile, thumbnail: bytes) -> None:
    types = ElementTree.fromstring(package.read("[Content_Types].xml"))
    by_extension = {e.get("Extension"): e.get("ContentType") for e in types}
    assert by_extension["model"] == MODEL_TYPE and by_extension["png"] == "image/png"
    assert by_extension["rels"] == "application/vnd.openxmlformats-package.relationships+xml"
    relations = {e.get("Type"): e.get("Target") for e in ElementTree.fromstring(package.read("_rels/.rels"))}
    assert relations[MODEL_RELATION] == "/3D/3dmodel.model"
    assert package.read(relations[THUMBNAIL_RELATION].lstrip("/")) == thumbnail
    assert package.testzip() is None


def test_model_part_is_plain_utf8_xml_in_millimetres(
    package: zipfile.ZipFile, model: ElementTree.Element
) -> None:
    text = package.read("3D/3dmodel.model").decode("utf-8")
    assert text.startswith('<?xml version="1.0" encoding="utf-8"?>') and "<!DOCTYPE" not in text
    assert model.tag == CORE + "model" and model.get("unit") == "millimeter"
    assert len(model.findall(CORE + "resources")) == 1 and len(model.findall(CORE + "build")) == 1
    assert model.get("requiredextensions") is None  # any reader of the core may open it


def test_ids_are_unique_and_items_point_at_objects(model: ElementTree.Element) -> None:
    resources = list(model.find(CORE + "resources"))
    ids = [r.get("id") for r in resources]
    assert len(set(ids)) == len(ids) and all(int(i) > 0 for i in ids)
    # One item for the body and one for holder and ring, which print as one: a slicer cannot part them.
    lone, *inside, whole = [r for r in resources if r.tag == CORE + "object"]
    assert [i.get("objectid") for i in model.find(CORE + "build")] == [lone.get("id"), whole.get("id")]
    components = list(whole.iter(CORE + "component"))
    assert [c.get("objectid") for c in components] == [o.get("id") for o in inside]
    assert whole.find(CORE + "mesh") is None


def test_lib3mf_in_strict_mode_and_trimesh_read_one_object_with_components(data: bytes) -> None:
    import lib3mf

    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(data)
    assert reader.GetWarningCount() == 0
    items, found = model.GetBuildItems(), []
    while items.MoveNext():
        thing = items.GetCurrent().GetObjectResource()
        found.append((thing.GetName(), thing.IsComponentsObject()))
        if thing.IsComponentsObject():
            whole = model.GetComponentsObjectByID(thing.GetResourceID())
            assert whole.GetComponentCount() == 2
    assert found == [("body", False), ('holder & "grid" with ring', True)]
    scene = trimesh.load(io.BytesIO(data), file_type="3mf")
    lows = {name: scene.geometry[key].copy().apply_transform(matrix).bounds[0, 2]
            for name in scene.graph.nodes_geometry for matrix, key in [scene.graph[name]]}  # fmt: skip
    # The ring stays 6 mm over the holder's foot instead of dropping to the bed.
    assert sorted(lows.values()) == pytest.approx([0.0, 0.0, 6.0], abs=1e-4)


def test_names_and_materials(model: ElementTree.Element) -> None:
    *objects, whole = model.iter(CORE + "object")
    assert [o.get("name") for o in objects] == ["body", 'holder & "grid"', "ring"]
    assert whole.get("name") == 'holder & "grid" with ring'
    assert {o.get("type") for o in objects} == {"model"}
    group = next(model.iter(CORE + "basematerials"))
    materials = [(b.get("name"), b.get("displaycolor")) for b in group]
    assert [m[0] for m in materials] == ["PETG", "PETG", "TPU, Shore 85 A"]
    assert materials[0][1] == "#4F8299FF"  # 0.31, 0.51, 0.6 of 255, rounded
    for number, thing in enumerate(objects):
        assert thing.get("pid") == group.get("id") and thing.get("pindex") == str(number)


def test_metadata_carry_title_and_cautions(model: ElementTree.Element) -> None:
    said = {m.get("name"): m.text for m in model.findall(CORE + "metadata")}
    assert said["Title"] == "Dust mask <demo>" and said["Application"] == "Sealwright"
    assert said["Description"] == "For a trial. " + CAUTION
    # The words every report must contain (check values of the project's standards notes, section 9).
    for words in (
        "not certified", "fit test", "competent person", "19.5", "IDLH", "facial hair", "seal check",
        "children", "skin reaction", "skin-safe",
    ):  # fmt: skip
        assert words.lower() in said["Description"].lower()
    assert not {"CreationDate", "ModificationDate"} & set(said)


def test_triangles_are_distinct_and_counter_clockwise(
    model: ElementTree.Element, parts: list[PrintPart]
) -> None:
    for thing, part in zip(list(model.iter(CORE + "object"))[:3], parts, strict=True):
        vertices, faces = arrays_of(thing)
        assert (faces != np.roll(faces, 1, axis=1)).all()
        read = trimesh.Trimesh(vertices, faces, process=False)
        assert read.is_watertight and read.is_winding_consistent
        # Six decimals in the file and float32 before it: 1e-5 mm over the area of the part.
        assert read.volume == pytest.approx(part.mesh.volume, abs=1e-5 * part.mesh.area)
        assert read.volume > 0


def test_items_stand_on_the_bed_in_the_positive_octant_apart(model: ElementTree.Element) -> None:
    boxes = []
    things, (body, both) = list(model.iter(CORE + "object")), model.iter(CORE + "item")
    own = [
        np.eye(4),
        *(matrix_of(c) if c.get("transform") else np.eye(4) for c in model.iter(CORE + "component")),
    ]
    for thing, item, inside in zip(things[:3], (body, both, both), own, strict=True):
        vertices, _ = arrays_of(thing)
        matrix = matrix_of(item) @ inside
        placed = vertices @ matrix[:3, :3].T + matrix[:3, 3]
        assert placed.min() > -1e-4  # float32 numbers of the transform
        boxes.append((placed.min(axis=0), placed.max(axis=0)))
        assert np.linalg.det(matrix[:3, :3]) == pytest.approx(1.0, abs=1e-6)
    assert boxes[0][0][2] == pytest.approx(0, abs=1e-4) and boxes[1][0][2] == pytest.approx(0, abs=1e-4)
    # The holder stands 5 mm beside the body; the ring keeps its place in the holder's groove.
    assert boxes[1][0][0] - boxes[0][1][0] == pytest.approx(5.0, abs=1e-3)
    assert boxes[2][0][2] == pytest.approx(6.0, abs=1e-4)
    assert np.allclose((boxes[1][0] + boxes[1][1])[:2], (boxes[2][0] + boxes[2][1])[:2], atol=1e-3)


def test_orientation_is_the_one_asked_for(model: ElementTree.Element) -> None:
    item = next(model.iter(CORE + "item"))
    assert np.allclose(matrix_of(item)[:3, :3], ON_ITS_SIDE[:3, :3], atol=1e-6)


def test_trimesh_reads_the_same_scene(data: bytes, parts: list[PrintPart]) -> None:
    scene = trimesh.load(io.BytesIO(data), file_type="3mf")
    assert scene.units == "millimeter"
    assert len(scene.geometry) == 3
    for part, mesh in zip(parts, scene.geometry.values(), strict=True):
        assert mesh.is_watertight and mesh.volume == pytest.approx(part.mesh.volume, rel=1e-5)
    assert scene.bounds[0].min() > -1e-4


def test_two_runs_give_the_same_bytes(parts: list[PrintPart], thumbnail: bytes, data: bytes) -> None:
    about = About(title="Dust mask <demo>", description="For a trial.")
    assert threemf_bytes(parts, thumbnail, about) == data
    assert threemf_bytes(parts[:1]) != data


def test_steady_package_drops_dates_and_keeps_contents() -> None:
    made = []
    for date, order in (((2001, 2, 3, 4, 5, 6), 1), ((2020, 1, 1, 0, 0, 0), -1)):
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w") as target:
            for name in ["b/x", "[Content_Types].xml", "a"][::order]:
                target.writestr(zipfile.ZipInfo(name, date), name * 50)
        made.append(steady_package(stream.getvalue()))
    assert made[0] == made[1]
    with zipfile.ZipFile(io.BytesIO(made[0])) as package:
        assert package.namelist() == ["[Content_Types].xml", "a", "b/x"]
        assert package.read("b/x") == b"b/x" * 50


def test_rows_break_when_they_get_long() -> None:
    cube = np.array(trimesh.creation.box((60, 40, 10)).vertices)
    laid = side_by_side([cube] * 5, [np.eye(4)] * 5, [""] * 5, (205.0, 500.0))
    corners = np.array([cube.min(axis=0) + p.place[:3, 3] for p in laid])
    assert np.allclose(corners[:, 0], [5, 70, 135, 5, 70]) and np.allclose(corners[:, 1], [5, 5, 5, 50, 50])
    assert {p.plate for p in laid} == {0}


def test_plates_hold_what_fits_the_bed_and_every_part_once(parts: list[PrintPart]) -> None:
    bed = (100.0, 90.0)  # the body is 80 mm wide, the holder 50
    plates = plates_of(parts, bed)
    assert [[part.name for part in plate] for plate in plates] == [["body"], ['holder & "grid"', "ring"]]
    for plate in plates:
        scene = trimesh.load(io.BytesIO(threemf_bytes(plate, bed_width_mm=bed[0])), file_type="3mf")
        low, high = scene.bounds
        assert (low > -1e-4).all() and high[0] <= bed[0] and high[1] <= bed[1]
    assert len(plates_of(parts, (220.0, 220.0))) == 1


def test_refusals_leave_no_file(parts: list[PrintPart], tmp_path: Path) -> None:
    opened = TriMesh(parts[0].mesh.vertices, parts[0].mesh.faces[1:].copy())
    for bad in ([], [PrintPart("body", opened)]):
        with pytest.raises(BadSolid):
            write_file(tmp_path / "mask.3mf", threemf_bytes(bad))
    assert list(tmp_path.iterdir()) == []
    assert write_file(tmp_path / "mask.3mf", threemf_bytes(parts[:1])).stat().st_size > 1000


def test_control_characters_in_names_do_not_break_the_file(parts: list[PrintPart]) -> None:
    made = threemf_bytes([PrintPart("ring\x07\none", parts[2].mesh)], about=About(title="tab\there\x00"))
    text = zipfile.ZipFile(io.BytesIO(made)).read("3D/3dmodel.model")
    thing = next(ElementTree.fromstring(text).iter(CORE + "object"))
    assert thing.get("name") == "ring  one"
