"""What is known of a finished port, by its kind: units in the names, which are also keys of the report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from .rings import FaceGland
from .soft_ring import SoftRing
from .threads import Thread


@dataclass(frozen=True, kw_only=True)
class CutGland:
    """A gland, where it was cut.

    Attributes
    ----------
    groove : the gland and its ring.
    gland_inner_land_mm, gland_outer_land_mm : what is left of the face on both sides.
    gland_side : "port" or "cap".
    gland_bridge_mm : what its roof bridges when the port prints face down.
    """

    groove: FaceGland
    gland_inner_land_mm: float
    gland_outer_land_mm: float
    gland_side: str
    gland_bridge_mm: float


@dataclass(frozen=True, kw_only=True)
class MalePortFacts:
    """A port with an external thread, sealed by an O-ring in a gland or by a soft ring on its face.

    ``cap_land_z_mm`` is where the land of a tight cap lies; ``facet_error_mm`` is how far a chord of the
    crest lies inside it.
    """

    port_kind: str
    thread: Thread
    thread_length_mm: float
    thread_turns: float
    port_length_mm: float
    bore_diameter_mm: float
    wall_under_thread_mm: float
    front_face_width_mm: float
    facet_error_mm: float
    seal: str
    cap_land_z_mm: float
    soft: SoftRing | None
    soft_material: str | None
    gland: CutGland | None


@dataclass(frozen=True, kw_only=True)
class FemalePortFacts:
    """A port with an internal thread and a flat seat for a bought gasket."""

    port_kind: str
    thread: Thread
    bore_diameter_mm: float
    port_length_mm: float
    thread_turns: float
    gasket_thickness_mm: float
    gasket_seat_inner_diameter_mm: float
    gasket_seat_outer_diameter_mm: float
    unsupported_seat_width_mm: float
    seal: str = "flat gasket, bought"


@dataclass(frozen=True, kw_only=True)
class ConeTip:
    """Sizes of a cone from outside, as printed."""

    cone_gauge_plane_z_mm: float
    cone_tip_diameter_mm: float
    cone_base_diameter_mm: float
    cone_tip_wall_mm: float


@dataclass(frozen=True, kw_only=True)
class ConeSocket:
    """Sizes of a conical socket, as printed."""

    socket_mouth_diameter_mm: float
    socket_bottom_diameter_mm: float
    socket_depth_mm: float


@dataclass(frozen=True, kw_only=True)
class ConePortFacts:
    """A port with a cone or a conical socket."""

    port_kind: str
    cone_size: str
    cone_gender: str
    cone_gauge_diameter_mm: float
    cone_gauge_confidence: str
    cone_half_angle_deg: float
    bore_diameter_mm: float
    port_length_mm: float
    fit: ConeTip | ConeSocket


@dataclass(frozen=True, kw_only=True)
class PlainPortFacts:
    """A straight tube."""

    port_kind: str
    bore_diameter_mm: float
    tube_outer_diameter_mm: float
    port_length_mm: float


@dataclass(frozen=True, kw_only=True)
class ValvePortFacts:
    """A bore with a valve cartridge; ``valve_ring`` is the O-ring on its spigot."""

    port_kind: str
    flap_diameter_mm: float
    valve_seat_inner_diameter_mm: float
    valve_seat_outer_diameter_mm: float
    valve_seat_area_mm2: float
    valve_seat_flatness_wanted_mm: float
    valve_seat_plane_z_mm: float
    valve_flap_overlap_mm: float
    valve_open_area_mm2: float
    valve_lift_area_mm2: float
    valve_preload_dome_mm: float
    valve_spoke_bridge_mm: float
    valve_ring: str
    valve_ring_inside_mm: float
    valve_ring_section_mm: float
    valve_ring_squeeze_percent: float
    valve_socket_diameter_mm: float
    valve_spigot_diameter_mm: float
    valve_spigot_length_mm: float
    port_length_mm: float


PortFacts: TypeAlias = MalePortFacts | FemalePortFacts | ConePortFacts | PlainPortFacts | ValvePortFacts


def gland_of(facts: PortFacts) -> CutGland | None:
    """The gland of a port, None where it has none."""
    return facts.gland if isinstance(facts, MalePortFacts) else None


def soft_ring_in(facts: PortFacts) -> SoftRing | None:
    """The soft ring on the face of a port, None where it has none."""
    return facts.soft if isinstance(facts, MalePortFacts) else None


def bore_of(facts: PortFacts) -> float | None:
    """Diameter in mm of the bore a breath passes, None for a valve, which opens one way."""
    return None if isinstance(facts, ValvePortFacts) else facts.bore_diameter_mm
