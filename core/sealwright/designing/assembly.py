"""What of a design is put together, and how: body, holder, medium, frame, rings, valve, straps."""

from __future__ import annotations

import math
from collections.abc import Generator, Iterator
from dataclasses import dataclass

import numpy as np

from ..checks.assembly import AssemblyCheck, Mate, MateCheck, Way, assembly_steps
from ..errors import DoesNotFit, Where
from ..facepiece.body import Placed
from ..hardware.allowance import Allowance, allowance_of
from ..hardware.cap import CAP_ROLE
from ..hardware.cartridge import FLAP_MM, SNAP_MM
from ..hardware.clamp import clamp_of, pressed_edge
from ..hardware.holder import HolderParts
from ..hardware.lugs import STRAP_PLAY_MM
from ..hardware.options import HolderSettings
from ..hardware.port_facts import MalePortFacts, ValvePortFacts
from ..hardware.retainer import CATCH_MM, SCREW_FLANGE_MM, SCREW_PITCH_MM
from ..hardware.soft_ring import SQUEEZE
from ..mesh import Floats
from ..progress import run_to_end
from ..recipe.decisions import fittings_of, holder_on, lug_of, ports_of
from ..solids.boolean import Solid
from ..solids.primitives import circle, revolved
from .design import Design
from .fittings import holders_of, on_port

_BESIDE_MM = 0.02  # a ring's chords lie so far off the wall of its groove
_RING_POINTS = 24
_FACES_APART = 1.5  # of the threads' play
_CLEAR_MM = 2.0  # beyond the last place where parts meet
_THREADED = "threaded through"
_LINER_MM = 0.6  # chords of a soft liner over a crease beside the nose are pressed on the band so deep


@dataclass(frozen=True, eq=False)
class _Screwed:
    """A port with its holder in place: number, settings and names."""

    placed: Placed
    holder: HolderParts
    settings: HolderSettings
    names: dict[str, str]

    def at(self, solid: Solid) -> Solid:
        """A solid of the port frame in place."""
        return solid.moved(self.placed.frame)


def assembly_of(design: Design) -> AssemblyCheck:
    """Put a finished design together and measure it; as `assembling`."""
    return run_to_end(assembling(design))


def assembling(design: Design) -> Generator[int, None, AssemblyCheck]:
    """Put a finished design together and measure it, in steps; nothing of a design without solids.

    Parts that the maker leaves out are not looked at.
    """
    if not design.parts:
        return AssemblyCheck()
    allowance = allowance_of(design.recipe.allowance)
    mates = [*_on_ports(design, allowance), *_straps(design, allowance), *_liner(design)]
    return (yield from assembly_steps(mates, dict(design.parts)))


def require_assembled(check: AssemblyCheck) -> None:
    """Refuse parts that share room or cannot be put in, and straps without their play.

    Raises
    ------
    DoesNotFit : the first such pair; `where.point` is the place.
    """
    for mate in check.faulty:
        tight = mate.facts.fault == "play" and mate.facts.how == _THREADED
        if tight or mate.facts.fault in ("overlap", "way"):
            raise DoesNotFit(_what(mate), Where(mate.facts.part, point=mate.point, key=mate.key), _fix(mate))


def _what(mate: MateCheck) -> str:
    found = mate.facts
    if found.fault == "overlap":
        return f"The {found.part} takes {found.overlap_mm3:.1f} mm3 of the {found.other}."
    if found.fault == "play":
        return (
            f"The {found.part} has {found.play_mm:.2f} mm to the {found.other}, not {found.play_stated_mm:g}."
        )
    return (
        f"The {found.part} cannot be put in: on its way it takes {found.way_overlap_mm3:.1f} mm3 of the "
        f"{found.other}."
    )


def _fix(mate: MateCheck) -> str:
    if mate.key.startswith("recipe.straps"):
        return "Use fewer lugs or narrower webbing, or move the lugs apart."
    return f"Change {mate.key}." if mate.key else "Move one of them."


def _on_ports(design: Design, allowance: Allowance) -> Iterator[Mate]:
    """What is on each port."""
    ports = design.ports
    holders = holders_of(design.recipe, ports, allowance)
    for number, (placed, holder) in enumerate(zip(ports, holders, strict=True)):
        kinds = ("holder", "port-cap", "retainer", "soft-ring", "valve-seat", "valve-cover")
        names = {kind: on_port(kind, number, ports) for kind in kinds}
        facts = placed.parts.facts
        settings = holder_on(design.recipe, number) if number < len(ports_of(design.recipe)) else None
        if isinstance(facts, MalePortFacts):
            capped = any(extra.role == CAP_ROLE for extra in placed.parts.extra)
            for kind, there in (("holder", holder is not None), ("port-cap", capped)):
                if there and names[kind] in design.parts:
                    yield from _screwed(design, placed, (names[kind], names["soft-ring"]), allowance)
        if holder is not None and settings is not None and names["holder"] in design.parts:
            yield from _filter(design, _Screwed(placed, holder, settings, names), allowance)
        if isinstance(facts, ValvePortFacts) and names["valve-seat"] in design.parts:
            yield from _valve(design, placed, names, allowance)


def _screwed(design: Design, placed: Placed, names: tuple[str, str], allowance: Allowance) -> Iterator[Mate]:
    """A holder or a cap on its thread, and what seals it; names of it and of a soft ring."""
    parts, (name, soft), frame, facts = design.parts, names, placed.frame, placed.parts.facts
    main = design.main
    if not isinstance(facts, MalePortFacts):
        return
    thread, play = facts.thread, allowance.gap_mm + 2.0 * allowance.coating_mm
    yield Mate(
        part=name,
        other=main,
        how="screwed",
        solids=(parts[name], parts[main]),
        play_mm=play,
        # Turned back so far that the flat faces stand further apart than the threads.
        play_at_mm=max(0.25 * thread.pitch_mm, _FACES_APART * play),
        way=Way(frame=frame, travel_mm=facts.port_length_mm + _CLEAR_MM, lead_mm=thread.lead_mm),
        key=f"{placed.key}.connection",
    )
    if facts.gland is not None:
        groove = facts.gland.groove
        low = facts.cap_land_z_mm + groove.depth_mm - 0.5 * groove.section_mm
        if facts.gland.gland_side == "port":
            low = facts.port_length_mm - groove.depth_mm + 0.5 * groove.section_mm
        radius = 0.5 * (groove.inside_mm + groove.section_mm) + _BESIDE_MM
        ring = _torus(radius, 0.5 * groove.section_mm, low).moved(frame)
        squeezed, free = (main, name) if facts.gland.gland_side == "cap" else (name, main)
        pressed = groove.section_mm - groove.depth_mm
        yield _pressed("O-ring", squeezed, (ring, parts[squeezed]), pressed, frame[:3, 2])
        yield Mate(part="O-ring", other=free, how="laid", solids=(ring, parts[free]))
    if facts.soft is not None and soft in parts:
        pressed = SQUEEZE * facts.soft.proud
        yield Mate(part=soft, other=name, how="pressed", solids=(parts[soft], parts[name]), depth_mm=pressed)
        yield Mate(part=soft, other=main, how="printed in", solids=(parts[soft], parts[main]))


def _pressed(part: str, other: str, solids: tuple[Solid, Solid], depth_mm: float, along: Floats) -> Mate:
    """A soft part that is pressed along a direction."""
    return Mate(part=part, other=other, how="pressed", solids=solids, depth_mm=depth_mm, pressed_along=along)


def _filter(design: Design, on: _Screwed, allowance: Allowance) -> Iterator[Mate]:
    """Medium, pre-filter and frame."""
    parts, holder, settings = design.parts, on.names["holder"], on.settings
    medium = on.at(on.holder.medium)
    yield Mate(part="medium", other=holder, how="laid", solids=(medium, parts[holder]))
    retainer = on.names["retainer"]
    if retainer not in parts:
        return
    clamp, pressed, frame = clamp_of(settings), pressed_edge(settings), parts[retainer]
    deep = clamp.squeeze + clamp.ridge if pressed else 0.0
    yield _pressed("medium", retainer, (medium, frame), deep, on.placed.frame[:3, 2])
    if on.holder.prefilter is not None:
        slab = on.at(on.holder.prefilter)
        yield Mate(part="pre-filter", other=retainer, how="laid", solids=(slab, frame))
        yield Mate(part="pre-filter", other="medium", how="laid", solids=(slab, medium))
    screwed = settings.retainer == "screw"
    travel = SCREW_FLANGE_MM if screwed else np.ptp(frame.mesh.vertices @ on.placed.frame[:3, 2])
    yield Mate(
        part=retainer,
        other=holder,
        how="screwed" if screwed else "snapped",
        solids=(frame, parts[holder]),
        depth_mm=settings.preload_mm / math.sqrt(2.0) if pressed and not screwed else 0.0,
        play_mm=allowance.gap_mm + 2.0 * allowance.coating_mm if screwed else None,
        play_at_mm=0.25 * SCREW_PITCH_MM,
        way=Way(
            frame=on.placed.frame,
            travel_mm=float(travel) + _CLEAR_MM,
            lead_mm=SCREW_PITCH_MM if screwed else 0.0,
            bends_mm=0.0 if screwed else CATCH_MM,
        ),
        key="recipe.holder.retainer",
    )


def _valve(design: Design, placed: Placed, names: dict[str, str], allowance: Allowance) -> Iterator[Mate]:
    """Seat disc in the body's bore, flap on the seat, cover on the disc."""
    parts, seat, cover = design.parts, names["valve-seat"], names["valve-cover"]
    way = Way(frame=placed.frame, travel_mm=placed.parts.travel_mm)
    yield Mate(
        part=seat,
        other=design.main,
        how="pushed in",
        solids=(parts[seat], parts[design.main]),
        play_mm=allowance.gap_mm,
        play_at_mm=2.0 * allowance.gap_mm + 0.3,
        way=way,
        key=placed.key,
    )
    flap = placed.parts.bought[0].moved(placed.frame)
    yield Mate(part="valve flap", other=seat, how="laid", solids=(flap, parts[seat]))
    if cover in parts:
        home = (parts[cover], parts[design.main])
        yield Mate(part=cover, other=design.main, how="pushed in", solids=home, way=way)
        snapped = Way(frame=placed.frame, travel_mm=placed.parts.travel_mm, bends_mm=SNAP_MM)
        yield Mate(part=cover, other=seat, how="snapped", solids=(parts[cover], parts[seat]), way=snapped)
        lift = _lift_mm(design, placed)
        yield Mate(
            part="valve flap",
            other=cover,
            how="laid",
            solids=(flap, parts[cover]),
            play_mm=min(lift - FLAP_MM, 1.5),
        )


def _lift_mm(design: Design, placed: Placed) -> float:
    """Room over the seat under the cover of a valve."""
    own = fittings_of(design.recipe, "port").get(placed.key)
    if own is not None:
        return own.connection.valve.lift_mm
    for place in ports_of(design.recipe):
        if place.connection.kind == "valve" and placed.key != "recipe.exhalation.place":
            return place.connection.valve.lift_mm
    return design.recipe.exhalation.valve.lift_mm


def _straps(design: Design, allowance: Allowance) -> Iterator[Mate]:
    """Webbing behind the bar of each lug."""
    for number, (webbing, place) in enumerate(zip(design.webbing, design.straps, strict=True), start=1):
        strap, lug = webbing.moved(place.frame), lug_of(design.recipe, number - 1)
        yield Mate(
            part=f"strap {number}",
            other=design.main,
            how=_THREADED,
            solids=(strap, design.parts[design.main]),
            play_mm=min(0.5 * lug.slot_play_mm + allowance.coating_mm, STRAP_PLAY_MM),
            key="recipe.straps.lug",
        )


def _liner(design: Design) -> Iterator[Mate]:
    """A printed liner in its groove."""
    if "liner" in design.parts:
        solids = (design.parts["liner"], design.parts["body"])
        yield Mate(part="liner", other="body", how="keyed in", solids=solids, depth_mm=_LINER_MM)


def _torus(radius: float, section_radius: float, height: float) -> Solid:
    """A ring about Z in the port frame."""
    profile = circle(section_radius, _RING_POINTS) + np.array([radius, height])
    return revolved(profile, "O-ring")
