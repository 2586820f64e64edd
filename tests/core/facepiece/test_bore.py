"""A boss that is bored before it is united with the body gives the body that is bored afterwards.

Reference: the same booleans in the plain order, all on manifold3d, compared by what only one of them has.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bare import bare_recipe
from sealwright.designing.prepare import Design, design
from sealwright.facepiece.body import shell_solid, with_fittings
from sealwright.hardware.options import PortSettings
from sealwright.hardware.port_parts import PortParts
from sealwright.progress import run_to_end
from sealwright.solids.boolean import Solid, difference, shared_volume, union

pytestmark = pytest.mark.heavy

KINDS = {
    "printed": PortSettings(),
    "trapezoidal": PortSettings(kind="trapezoidal", diameter_mm=52),
    "plain": PortSettings(kind="plain"),
    "cone": PortSettings(kind="cone"),
    "socket": PortSettings(kind="cone", cone_gender="female"),
    "valve": PortSettings(kind="valve"),
}


def made(marlo, connection: PortSettings) -> Design:
    place = replace(bare_recipe().ports[0], connection=connection)
    return run_to_end(design(marlo, replace(bare_recipe(), ports=(place,)), "preview"))


def bored_last(shell: Solid, parts: PortParts, frame: np.ndarray) -> Solid:
    return difference("body", union("body", shell, parts.boss.moved(frame)), parts.bore.moved(frame))


@pytest.mark.parametrize("kind", KINDS)
def test_boss_bored_first_gives_the_same_body(marlo, kind: str) -> None:
    found = made(marlo, KINDS[kind])
    shell, (port,) = shell_solid(found.shell), found.ports
    ours = with_fittings(shell, found.ports, found.void)
    plain = bored_last(shell, port.parts, port.frame)
    assert shared_volume(ours, plain) == pytest.approx(ours.volume, rel=1e-6)
    assert plain.volume == pytest.approx(ours.volume, rel=1e-6)
    assert ours.genus == plain.genus


def test_wall_in_the_bore_is_still_cut(marlo) -> None:
    found = made(marlo, PortSettings())
    (port,) = found.ports
    side, outer = found.shell.face_side.copy(), found.shell.outer_side
    row = side.shape[1] - 4
    away = side[:, row:] - port.frame[:3, 3]
    along = (away @ port.frame[:3, 2])[..., None] * port.frame[:3, 2]
    side[:, row:] -= 0.1 * (away - along)  # 1.7 mm narrower than the bore allows
    narrow = shell_solid(replace(found.shell, face_side=side, outer_side=outer))
    assert shared_volume(narrow, port.parts.bore.moved(port.frame)) > 50.0
    ours = with_fittings(narrow, found.ports, found.void)
    assert shared_volume(ours, port.parts.bore.moved(port.frame)) < 1e-6
    assert ours.volume == pytest.approx(bored_last(narrow, port.parts, port.frame).volume, rel=1e-9)
