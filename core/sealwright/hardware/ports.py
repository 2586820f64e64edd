"""A port: the boss united with the body, the bore cut from it, and the room its mating part needs.

Port frame, right-handed: +Z along the port axis out of the mask, origin on the axis in the plane where the
chamber wall ends and the boss begins.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..errors import Remark
from ..settings import check_settings
from ..solids.boolean import Solid
from .allowance import Allowance
from .options import PortSettings

THROAT_LIP_MM = (
    0.4  # the wall's inner radius is this much larger than the bore: the bore cut never skims the wall
)
BORE_REACH_MM = 4.0  # how far the bore reaches beyond the boss at both ends


@dataclass(frozen=True)
class PortParts:
    """The solids of a port in the port frame.

    Attributes
    ----------
    boss : to be united with the body; from -overlap to its length, radii up to more than the throat.
    bore : to be subtracted from the body after the union; reaches well beyond both ends of the boss.
    seat_radius_mm : inner radius of the chamber wall where it meets the boss (the throat).
    boss_radius_mm : outer radius of the boss at z = 0.
    keep_clear : room for the mating part and the hand that turns it.
    facts : numbers for the report, units in the keys.
    length_mm : height of the front face over z = 0.
    extra : further printed parts in place: name -> solid (soft ring, valve cover).
    remarks : what the maker should know.
    """

    boss: Solid
    bore: Solid
    seat_radius_mm: float
    boss_radius_mm: float
    keep_clear: Solid
    facts: dict[str, Any]
    length_mm: float
    extra: tuple[Solid, ...] = ()
    remarks: tuple[Remark, ...] = ()

    @property
    def throat_radius_mm(self) -> float:
        """The same as ``seat_radius_mm``."""
        return self.seat_radius_mm


def make_port(settings: PortSettings, allowance: Allowance) -> PortParts:
    """Build a port.

    Raises
    ------
    BadRecipe : a value out of range, or an unknown ring.
    DoesNotFit : the sizes contradict each other (bore, thread, gland).
    """
    from . import port_male

    check_settings(settings, "port")
    return port_male.male_port(settings, allowance)
