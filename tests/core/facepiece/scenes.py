"""A facepiece on an analytic skin: circle of control points, band, wall, shell, trimmed body."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from bare import BARE_BAND
from face.shapes import cylinder, plane, sphere
from sealwright.face.face_solid import face_solid
from sealwright.face.surface import FaceSurface
from sealwright.facepiece.band_ends import Fillet
from sealwright.facepiece.body import band_face, shell_solid, trimmed
from sealwright.facepiece.chamber_wall import ChamberSettings, ChamberWall, Throat, chamber_wall
from sealwright.facepiece.clearance_field import ClearanceField
from sealwright.facepiece.contact_band import BandSettings, ContactBand
from sealwright.facepiece.seal_line import SealLine, line_through
from sealwright.facepiece.shell import Shell, make_shell
from sealwright.mesh import Floats
from sealwright.solids.boolean import Solid

from .bands import contact_band

RADIUS_MM = 75.0
RING_MM = 42.0
SKINS = {"sphere": sphere, "plane": plane, "cylinder": cylinder}
BARE = "plane", "sphere", "cylinder"


@dataclass(frozen=True, eq=False)
class Scene:
    """What the facepiece's stages give on an analytic skin."""

    face: FaceSurface
    line: SealLine
    settings: BandSettings
    band: ContactBand
    wall: ChamberWall
    shell: Shell
    body: Solid


def circle(face: FaceSurface, count: int = 12, radius_mm: float = RING_MM) -> Floats:
    """Control points on the skin, seen from the front on a circle round the Y axis."""
    turn = 2.0 * np.pi * np.arange(count) / count + 0.2
    x, z = radius_mm * np.cos(turn), radius_mm * np.sin(turn)
    return face.drop_on_skin(np.stack([x, -np.sqrt(RADIUS_MM**2 - radius_mm**2) + 0 * x, z], axis=1))


@cache
def scene(skin: str, stand_off_mm: float = 0.0) -> Scene:
    """Band and chamber on one of `SKINS`, with a port in front."""
    face = SKINS[skin](RADIUS_MM) if skin != "plane" else plane(-RADIUS_MM)
    settings, chamber = replace(BARE_BAND, stand_off_mm=stand_off_mm), ChamberSettings(overhang="free")
    line = line_through(face, circle(face), 192, 5.0)
    band = contact_band(face, line, settings, Fillet(chamber.fillet_mm, chamber.leave_deg), 1.8)
    inner = band.inner_end
    field = ClearanceField(face, chamber.clearance_mm, inner, chamber.fillet_mm, chamber.leave_deg)
    wall = chamber_wall(band, Throat(port_at(40.0), 17.4), field, 1.8)
    shell = make_shell(band, wall, chamber.wall_mm, line.sigma_stations)
    body = trimmed(shell_solid(shell), band_face(face, band))
    return Scene(face, line, settings, band, wall, shell, body)


def port_at(front_mm: float) -> Floats:
    """A port frame that looks along -Y, its origin so far in front of the skin."""
    frame = np.eye(4)
    frame[:3, :3] = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    frame[:3, 3] = [0.0, -RADIUS_MM - front_mm, 0.0]
    return frame


__all__ = ["BARE", "RADIUS_MM", "RING_MM", "Scene", "circle", "face_solid", "port_at", "scene"]
