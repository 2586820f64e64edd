"""A port of any kind: the door to the builders of threads, cones, plain tubes and valve seats."""

from __future__ import annotations

from ..settings import check_settings
from .allowance import Allowance
from .options import PortSettings
from .port_cone import cone_port
from .port_female import rd40_port
from .port_male import male_port
from .port_parts import PortParts
from .port_plain import plain_port
from .valve import valve_port

__all__ = ["PortParts", "make_port"]

_BUILDERS = {
    "printed": male_port,
    "metric": male_port,
    "trapezoidal": male_port,
    "rd40": rd40_port,
    "cone": cone_port,
    "plain": plain_port,
    "valve": valve_port,
}


def make_port(settings: PortSettings, allowance: Allowance) -> PortParts:
    """Build a port.

    Raises
    ------
    BadRecipe : a value out of range, or an unknown ring.
    DoesNotFit : the sizes contradict each other (bore, thread, gland).
    """
    check_settings(settings, "port")
    return _BUILDERS[settings.kind](settings, allowance)
