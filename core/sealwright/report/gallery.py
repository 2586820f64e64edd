"""The pictures of a design: worn, alone, cut open, with gap and wall maps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..checks.fit import FitCheck
from ..checks.wall import WallCheck
from ..cushion.band_face import band_face_of, grid_triangles
from ..designing.design import Design
from ..facepiece.body import Placed
from ..facepiece.contact_band import ContactBand
from ..facepiece.shell import Shell, side_mesh
from ..hardware.port_facts import MalePortFacts, gland_of
from ..limits import limit
from ..mesh import TriMesh
from ..parallel import in_threads
from ..progress import Job, Step
from ..render.camera import Camera, framed
from ..render.pictures import png_bytes, render, tracer_of, view_of
from ..render.scene import RING, Colour, Cut, Legend, Scene, Shown, line_tube
from ..solids.primitives import revolved
from .shown_parts import CUSHION, PART_COLOURS, worn_cushion

SKIN: Colour = (0.86, 0.73, 0.64)
SIZE = (960, 720)
SMALL = (400, 300)
_LEVEL = 0.999  # cosine of the turn up to which a port's own section lies in the middle of the face


def design_pictures(design: Design) -> Job[dict[str, bytes]]:
    """Pictures of a design by file name, as a job of steps.

    Raises
    ------
    BackendUnavailable : the ray caster or the picture library is missing.
    """
    scenes, close = _scenes(design), {"worn-section": _section_camera, "joint-section": _joint_camera}

    def drawn(names: list[str]) -> list[bytes]:
        """The pictures of one scene."""
        made, tracer = list[bytes](), tracer_of(scenes[names[0]][0])
        for name in names:
            scene, view, flat = scenes[name]
            camera = close[name](design) if name in close else view_of(scene, view, SIZE, flat)
            made.append(png_bytes(render(scene, camera, SIZE, tracer)))
        return made

    groups = [
        [name for name in scenes if scenes[name][0] is scene] for scene in {s[0]: 0 for s in scenes.values()}
    ]

    made: dict[str, bytes] = {}
    yield Step(0.0, f"Drawing {len(scenes)} pictures")
    for names, pictures in zip(groups, in_threads(drawn, groups), strict=True):
        made |= {f"{name}.png": picture for name, picture in zip(names, pictures, strict=True)}
        yield Step(len(made) / len(scenes), f"Drawing {len(scenes)} pictures")
    return made


def thumbnail(design: Design) -> bytes:
    """A small picture of the mask as it is worn, for print files.

    Raises
    ------
    BackendUnavailable : the ray caster or the picture library is missing.
    """
    scene = replace(_scenes(design)["worn-three-quarter"][0], scale_bar=False)
    return png_bytes(render(scene, view_of(scene, "three-quarter", SMALL), SMALL))


def _scenes(design: Design) -> dict[str, tuple[Scene, str | tuple[float, float, float], bool]]:
    skin = Shown(_face_patch(design), SKIN, solid=False)
    hard = [solid for name, solid in design.parts.items() if name != "liner"]
    parts = [Shown(solid.mesh, PART_COLOURS[number % len(PART_COLOURS)]) for number, solid in enumerate(hard)]
    soft = _cushion(design)
    body, parts = parts[0], [*parts, *soft]
    middle, worn = Cut((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)), Scene((skin, *parts))
    scenes: dict[str, tuple[Scene, str | tuple[float, float, float], bool]] = {
        "worn-front": (worn, "front", False),
        "worn-three-quarter": (worn, "three-quarter", False),
        "worn-side": (Scene((skin, body, *soft)), "side", True),
        "body-inside": (Scene((body, *soft)), "inside three-quarter", False),
        "worn-section": (Scene((skin, *parts), cut=middle), "side", True),
    }
    if "holder" in design.parts and abs(design.ports[0].frame[0, 0]) > _LEVEL:
        scenes["joint-section"] = (Scene((*parts, *_ring(design.ports[0])), cut=middle), "side", True)
    if design.fit is not None:
        scenes["gap"] = (_gap_scene(design), "inside", True)
    if design.wall is not None and design.shell is not None:
        scenes["wall"] = (_wall_scene(design.shell, design.wall), "three-quarter", False)
    return scenes


def _cushion(design: Design) -> tuple[Shown, ...]:
    """What is worn between the band and the skin: lip, liner, or the strip of foam as it lies on the skin."""
    worn = worn_cushion(design)
    return () if worn is None else (Shown(worn, CUSHION),)


def _face_patch(design: Design) -> TriMesh:
    """The skin in front of the ears and above the throat."""
    mesh = design.prepared.skin
    reach = 105.0 * max(design.prepared.size, 0.8)
    centre = mesh.corners.mean(axis=1)
    keep = (centre[:, 1] < 0.8 * reach) & (np.abs(centre[:, 2] + 10.0) < reach)
    patch = mesh.submesh(np.asarray(keep)) if keep.any() else mesh
    # The band lies on the skin: sunk a little, the skin does not flicker through it.
    return TriMesh(patch.vertices - 0.25 * patch.vertex_normals, patch.faces)


def _section_camera(design: Design) -> Camera:
    points = np.concatenate([solid.mesh.vertices[::20] for solid in design.parts.values()])
    low = points.min(axis=0) - 8.0
    high = points.max(axis=0) + np.array([0.0, 40.0, 8.0])
    return framed("side", np.stack([low, high]), SIZE, True)


def _joint_camera(design: Design) -> Camera:
    """Close up on the upper side of the thread, the ring and the land of the first port."""
    port = design.ports[0]
    up = port.frame[:3, 1] * np.sign(port.frame[2, 1])
    facts = port.parts.facts
    land = facts.cap_land_z_mm if isinstance(facts, MalePortFacts) else facts.port_length_mm
    outer = 0.5 * land + 34.0
    along = np.outer([-4.0, port.parts.length_mm + 12.0], port.frame[:3, 2])
    points = port.frame[:3, 3] + along[:, None] + np.outer([13.0, outer], up)[None]
    return framed("side", points.reshape(-1, 3), SIZE, True)


def _ring(port: Placed) -> tuple[Shown, ...]:
    """The O-ring as it lies squeezed in its gland: as high as the gland, as wide as its volume asks."""
    gland = gland_of(port.parts.facts)
    if gland is None:
        return ()
    section, depth = gland.groove.ring.section_mm, gland.groove.depth_mm
    middle = 0.25 * (gland.groove.inside_mm + gland.groove.outside_mm)
    width = min(0.25 * np.pi * section**2 / depth, gland.groove.width_mm)
    top = port.parts.length_mm + (depth if gland.gland_side == "cap" else 0.0)
    profile = rounded_box(middle - 0.5 * width, middle + 0.5 * width, top - depth, top)
    return (Shown(revolved(profile, "O-ring").moved(port.frame).mesh, RING),)


def rounded_box(low: float, high: float, bottom: float, top: float) -> list[tuple[float, float]]:
    """Outline of a box in a radial plane with its corners cut by a third of its smaller side."""
    c = min(high - low, top - bottom) / 3.0
    corners = [(low, bottom), (high, bottom), (high, top), (low, top)]
    steps = [((0, c), (c, 0)), ((-c, 0), (0, c)), ((0, -c), (-c, 0)), ((c, 0), (0, -c))]
    return [(r + dr, z + dz) for (r, z), pair in zip(corners, steps, strict=True) for dr, dz in pair]


def _gap_scene(design: Design) -> Scene:
    """The contact band from the face side, coloured by its distance from the skin."""
    if design.cushion is not None and design.band is not None and design.fit is not None:
        return _cushion_gap_scene(design, design.band, design.fit)
    body = design.parts["body"].mesh
    height = np.abs(design.prepared.face.height_of(body.vertices))
    shown = np.where(height < 3.0, height, np.nan)
    legend = Legend("Distance to the skin", "mm", 0.0, 1.0, (("contact", limit("touch").value),))
    coloured = Shown(body, PART_COLOURS[0], values=shown)
    if design.seal_line is None:
        return Scene((coloured,), legend=legend)
    line = Shown(line_tube(design.seal_line.points, 0.5), (0.1, 0.1, 0.1), solid=False)
    return Scene((coloured, line), legend=legend)


def _cushion_gap_scene(design: Design, band: ContactBand, fit: FitCheck) -> Scene:
    """The hard band, coloured by how far its distance from the skin is off the one its cushion needs."""
    hard = band_face_of(band, design.parts["body"].mesh).grid
    near = hard + 0.05 * (fit.places - hard)  # a little before the body, so that it is seen
    legend = Legend("Off the wanted distance", "mm", 0.0, 1.0, (("contact", limit("touch").value),))
    closed = np.concatenate([near, near[:1]])
    values = np.abs(np.concatenate([fit.gap, fit.gap[:1]])).ravel()
    strip = TriMesh(closed.reshape(-1, 3), grid_triangles(*closed.shape[:2]).astype(np.int32))
    body = Shown(design.parts["body"].mesh, PART_COLOURS[0])
    return Scene((body, Shown(strip, PART_COLOURS[0], values=values, solid=False)), legend=legend)


def _wall_scene(shell: Shell, wall: WallCheck) -> Scene:
    """The outer side of the chamber wall, coloured by its thickness."""
    rows = np.flatnonzero(shell.wall)
    wanted = wall.wanted_mm
    legend = Legend("Wall thickness", "mm", 0.8 * wanted, 1.2 * wanted, (("wanted", wanted),))
    outer = side_mesh(shell.outer_side[:, rows])
    return Scene((Shown(outer, PART_COLOURS[0], values=wall.thickness, solid=False),), legend=legend)
