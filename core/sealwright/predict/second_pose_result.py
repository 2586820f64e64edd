"""What comes out of the check of a second pose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import Remark
from ..limits import limit
from ..mesh import Bools, Floats
from ..physics.contact_result import ContactResult
from ..physics.fit_range import FitRange
from ..physics.patch import REGIONS, Codes


@dataclass(frozen=True, eq=False)
class SecondPoseCheck:
    """A body in another pose of its wearer. All arrays follow the stations of the seal line, nose first.

    Attributes
    ----------
    second_to_first : (4, 4) face frame of the second scan to that of the first.
    still_rms_mm, still_share, still_p90_mm, nose_apart_mm : how well the still parts lie on each other, see
        `scan.landmarks.second_pose`.
    covered_share : share of the band under which the second scan has skin.
    gap_mm : (n, k) from the moved skin to the body before the straps act, outer edge first; negative where
        the skin has moved into the body's place.
    slide_along_mm, slide_across_mm : (n,) estimated movement of the skin along the line (towards the wearer's
        left at the nose) and across it (outwards positive).
    first, contact : balance in the first and in the second pose; None without hold.
    fit : range of the fit factor in the second pose; None without hold.
    lift_mm : (n,) smallest opening across the band after balance; NaN without hold.
    region : (n,) region code of the seal line.
    refusal : why there is no balance; empty when there is one.
    remarks : what the maker should know.
    """

    second_to_first: Floats
    still_rms_mm: float
    still_share: float
    still_p90_mm: float
    nose_apart_mm: float
    covered_share: float
    gap_mm: Floats
    slide_along_mm: Floats
    slide_across_mm: Floats
    first: ContactResult | None
    contact: ContactResult | None
    fit: FitRange | None
    lift_mm: Floats
    region: Codes
    refusal: str
    remarks: tuple[Remark, ...]

    @property
    def lifted(self) -> Bools:
        """Stations (n,) that touch in the first pose and are open in the second."""
        before = np.zeros(len(self.lift_mm)) if self.first is None else self.first.station_gap_mm
        lift = limit("pose_lift").value
        return np.asarray((self.lift_mm > lift) & (before <= lift))

    def region_lift_mm(self) -> dict[str, float]:
        """Largest opening by region of the face, regions without seal line left out; empty without hold."""
        if self.contact is None:
            return {}
        return {
            name: float(self.lift_mm[self.region == code].max())
            for code, name in enumerate(REGIONS)
            if (self.region == code).any()
        }
