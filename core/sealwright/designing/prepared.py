"""A prepared scan: the face surface with its landmarks and the way back to the scan's own coordinates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..errors import Remark
from ..face.surface import FaceSurface
from ..mesh import Bools, Floats, TriMesh
from ..scan.landmarks.face_size import face_size
from ..scan.reference.reference_object import ReferenceFit
from .plausible import Plausible


@dataclass(frozen=True, eq=False)
class Prepared:
    """What every design of this wearer starts from.

    Attributes
    ----------
    face : the face surface, face frame, mm.
    landmarks : name -> (3,) mm in the face frame.
    confidence : name -> 0 to 1; 1 for landmarks set by the maker.
    scan_to_design : 4x4 from scan coordinates (the scan's own unit) to the face frame in mm.
    unit : unit of the scan file; mm_per_unit : its size.
    wearer_scale : factor on the face that is part of ``scan_to_design``.
    skin : the cleaned scan in the face frame, mm, cropped to the neighbourhood of the mask.
    remarks : what was changed or doubted on the way.
    pose_confidence : how sure the pose of the head is, 0 to 1.
    reference : the object of known size in the scan, where the scale came from one.
    plausible : what cannot be right was looked for; None where it was not, as on a patch of shared skin.
    """

    face: FaceSurface
    landmarks: Mapping[str, Floats]
    confidence: Mapping[str, float]
    scan_to_design: Floats
    unit: str
    mm_per_unit: float
    wearer_scale: float
    skin: TriMesh
    remarks: tuple[Remark, ...] = ()
    pose_confidence: float = 1.0
    reference: ReferenceFit | None = None
    plausible: Plausible | None = None

    @cached_property
    def size(self) -> float:
        """Face length over 115 mm, a plain measure of how large the wearer's face is."""
        return face_size(self.landmarks)

    @cached_property
    def nose_and_lips(self) -> Floats:
        """Skin points (m, 3) in mm of nose tip, nostril wings and lips, which the chamber keeps clear of."""
        points = self.face.points[self._nose_and_lips_pixels]
        return np.ascontiguousarray(points)

    @cached_property
    def _nose_and_lips_pixels(self) -> Bools:
        mark, skin = self.landmarks, self.face.points
        wing = max(abs(mark["alare_left"][0]), abs(mark["alare_right"][0])) + 1.0
        tip_z, tip_y = mark["pronasale"][2], mark["pronasale"][1]
        nose = (np.abs(skin[..., 0]) < wing) & (skin[..., 2] > -2.0) & (skin[..., 2] < tip_z + 6.0)
        nose &= skin[..., 1] < 0.5 * tip_y + 4.0
        corner = max(abs(mark["cheilion_left"][0]), abs(mark["cheilion_right"][0]))
        mouth_z = (mark["cheilion_left"][2] + mark["cheilion_right"][2]) / 2.0
        lips = (np.abs(skin[..., 0]) < corner) & (skin[..., 2] <= -2.0) & (skin[..., 2] > mouth_z - 10.0)
        return np.asarray((nose | lips) & self.face.known)
