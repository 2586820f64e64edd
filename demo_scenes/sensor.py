"""A simulated hand-held depth sensor: a clean head in, a scan as a phone gives it out, and the truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation
from sealwright.mesh import Floats, TriMesh, joined
from sealwright.settings import check_settings, choice, count, quantity

from .head_landmarks import Landmarks
from .patches import face_patch, tidy, waves, with_holes
from .procedural_head import ProceduralHead

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}


@dataclass(frozen=True)
class Sensor:
    """What the sensor does to a head. Noise defaults: the 0.5 to 1.4 mm of phones (docs/standards 8)."""

    unit: str = choice("mm", ("mm", "cm", "m", "in"), "Unit of the numbers in the scan.")
    pose: str = choice("upright", ("upright", "any"), "Y up, facing +Z within 12 degrees, or any rotation.")
    crop: str = choice("face", ("face", "head"), "Face patch with ragged border, or the whole head.")
    ragged_mm: float = quantity(4.0, "mm", 0.0, 12.0, "How far the border of a face patch wanders.")
    smooth_noise_mm: float = quantity(0.25, "mm", 0.0, 3.0, "Root mean square of the wavy error.")
    smooth_length_mm: float = quantity(12.0, "mm", 3.0, 60.0, "Correlation length of the wavy error.")
    white_noise_mm: float = quantity(0.1, "mm", 0.0, 2.0, "Standard deviation of the error of single points.")
    spikes: int = count(12, 0, 2000, "Points thrown 2 to 8 mm off the skin.")
    holes: int = count(3, 0, 40, "Holes, away from the middle of the face.")
    hole_mm: float = quantity(6.0, "mm", 1.0, 25.0, "Largest radius of a hole.")
    islands: int = count(2, 0, 40, "Loose scraps floating off the skin, as hair and collars leave them.")
    seed: int = count(1, 0, 2**31 - 1, "Which of the possible scans; the same number gives the same bytes.")


@dataclass(frozen=True, eq=False)
class Capture:
    """A simulated scan and the truth about it.

    Attributes
    ----------
    mesh : the scan; its vertices are in ``unit``, in scan coordinates.
    unit : unit of the scan's numbers.
    scan_from_face : (4, 4), face frame in mm to scan coordinates in the scan's unit.
    landmarks : name -> (3,) in scan coordinates and unit, on the noiseless skin.
    head : the clean head, face frame, mm.
    sensor : what was done.
    """

    mesh: TriMesh
    unit: str
    scan_from_face: Floats
    landmarks: Landmarks
    head: ProceduralHead
    sensor: Sensor


def capture(head: ProceduralHead, sensor: Sensor | None = None) -> Capture:
    """Scan a head.

    Parameters
    ----------
    head : clean, face frame, mm.
    sensor : None for the defaults, a good phone scan.

    Raises
    ------
    BadRecipe : a sensor value out of its range.
    """
    sensor = sensor or Sensor()
    check_settings(sensor, "sensor")
    rng = np.random.default_rng(sensor.seed)
    skin = head.mesh if sensor.crop == "head" else face_patch(head.mesh, sensor.ragged_mm, sensor.seed)
    centres = _hole_centres(skin, sensor.holes, rng)
    skin = with_holes(skin, centres, rng.uniform(0.4, 1.0, sensor.holes) * sensor.hole_mm, rng)
    scraps = [_scrap(skin, rng) for _ in range(sensor.islands)]
    noisy = joined(_noisy(skin, sensor, rng), *scraps)
    transform = _pose(sensor, rng)
    transform[:3] /= MM_PER_UNIT[sensor.unit]
    places = {name: transform[:3, :3] @ place + transform[:3, 3] for name, place in head.landmarks.items()}
    return Capture(noisy.moved(transform), sensor.unit, transform, places, head, sensor)


def _noisy(mesh: TriMesh, sensor: Sensor, rng: np.random.Generator) -> TriMesh:
    error = sensor.smooth_noise_mm * waves(mesh.vertices, sensor.smooth_length_mm, rng)
    error += sensor.white_noise_mm * rng.normal(size=len(error))
    moved = mesh.vertices + error[:, None] * mesh.vertex_normals
    spiked = rng.choice(len(moved), min(sensor.spikes, len(moved)), replace=False)
    throw = rng.uniform(2.0, 8.0, len(spiked)) * rng.choice([-1.0, 1.0], len(spiked))
    moved[spiked] += throw[:, None] * mesh.vertex_normals[spiked]
    return TriMesh(moved, mesh.faces)


def _hole_centres(mesh: TriMesh, number: int, rng: np.random.Generator) -> Floats:
    """Points (k, 3) on the skin, 45 mm or more from the mouth: sensors lose cheeks, jaw and hairline."""
    far = np.linalg.norm(mesh.vertices - [0.0, 0.0, -20.0], axis=1) > 45.0
    return np.array(mesh.vertices[rng.choice(np.flatnonzero(far), number, replace=False)])


def _scrap(mesh: TriMesh, rng: np.random.Generator) -> TriMesh:
    """A loose bit of surface 12 to 30 mm off the skin, a few millimetres across, out towards the border."""
    out = np.argsort(mesh.vertices[:, 1], kind="stable")[-len(mesh.vertices) // 5 :]
    hub = int(rng.choice(out))
    near = np.linalg.norm(mesh.corners.mean(axis=1) - mesh.vertices[hub], axis=1) < rng.uniform(5.0, 9.0)
    near |= (mesh.faces == hub).any(axis=1)
    scrap = mesh.submesh(tidy(mesh.faces, near))
    lift = rng.uniform(12.0, 30.0) * mesh.vertex_normals[hub]
    return TriMesh(scrap.vertices + lift, scrap.faces)


def _pose(sensor: Sensor, rng: np.random.Generator) -> Floats:
    """Face frame to scan coordinates (4, 4), both in mm."""
    stand = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])  # Y up, +Z out of the face
    if sensor.pose == "any":
        turn = Rotation.from_quat(rng.normal(size=4)).as_matrix()
    else:
        turn = Rotation.from_euler("xyz", rng.uniform(-12.0, 12.0, 3), degrees=True).as_matrix()
    transform = np.eye(4)
    transform[:3, :3] = turn @ stand
    transform[:3, 3] = [*rng.uniform(-40.0, 40.0, 2), -rng.uniform(300.0, 450.0)]
    return transform
