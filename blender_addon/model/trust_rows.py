# SPDX-License-Identifier: GPL-3.0-or-later
"""How far the scanned skin under the seal can be trusted, sector by sector, kept in the file.

The verdicts belong to one line, one band and one prepared face. A stamp of the line and of the values that
count says whether they still do; it is cheap enough for every redraw.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any

from .placing import face_matrix, to_world
from .seal_curve import control_points, seal_object, stored_points
from .words import told

if TYPE_CHECKING:
    import bpy

    from ..core.designing.prepared import Prepared
    from ..core.facepiece.seal_line import SealLine
    from .wearers import SEALWRIGHT_PG_wearer

GOOD, DOUBTFUL, RESCAN = "good", "doubtful", "rescan"
WORDS = {GOOD: "good", DOUBTFUL: "doubtful", RESCAN: "scan again"}
COUNTED = {
    DOUBTFUL: "doubtful in {count} of {all} sectors",
    RESCAN: "scan again in {count} of {all} sectors",
}


def line_stamp(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> str:
    """What the verdicts depend on that the file holds: line, frame, band, and how the scan is read."""
    obj, recipe = seal_object(context, wearer), wearer.recipe
    if obj is None or not wearer.prepared:
        return ""
    values = [recipe.band.width_mm, recipe.band.inner_share, recipe.seal_line.smoothing_mm]
    values += [recipe.scan.wearer_scale, recipe.scan.smoothing_mm, recipe.scan.fill_mm]
    parts = [stored_points(obj).tobytes(), face_matrix(wearer).tobytes(), repr(values).encode()]
    return hashlib.sha256(b"".join(parts)).hexdigest()[:16]


def up_to_date(context: bpy.types.Context, wearer: SEALWRIGHT_PG_wearer) -> bool:
    """Whether the verdicts in the file are those of the line and values as they are."""
    stamp = line_stamp(context, wearer)
    return bool(stamp) and wearer.judged_by.partition(":")[0] == stamp


def judge(
    context: bpy.types.Context,
    wearer: SEALWRIGHT_PG_wearer,
    prepared: Prepared,
    line: SealLine | None = None,
) -> None:
    """Judge the skin under the line as it is drawn and keep the verdicts, unless they are known already.

    Parameters
    ----------
    line : the line of a build; None lays one through the drawn points.
    """
    from ..core.designing.context import QUALITIES
    from ..core.errors import DesignError
    from ..core.facepiece.seal_line import line_through

    obj = seal_object(context, wearer)
    if obj is None:
        forget(wearer)
        return
    points = control_points(obj, wearer)  # first: it brings what edit mode holds into the curve
    stations = QUALITIES["final"].stations if line is None else len(line.points)
    wanted = f"{line_stamp(context, wearer)}:{skin_stamp(prepared)}:{stations}"
    # after a full build, which judges at more stations, the same line is not judged at fewer
    if wearer.judged_by == wanted or (line is None and _judged(wearer, wanted)):
        return
    if line is None:
        try:
            on_skin = prepared.face.drop_on_skin(points)
            line = line_through(prepared.face, on_skin, stations, wearer.recipe.seal_line.smoothing_mm)
        except DesignError:  # a line that crosses itself: its marks and the build say so
            forget(wearer)
            return
    _write(wearer, prepared, line)
    wearer.judged_by = wanted


def forget(wearer: SEALWRIGHT_PG_wearer) -> None:
    """Take the verdicts away: they are of another face, or of no line at all."""
    wearer.sectors.clear()
    wearer.judged_by = wearer.skin_changes = ""


def skin_stamp(prepared: Prepared) -> str:
    """A short hash of a prepared face: its skin and its place."""
    data = prepared.face.radii.tobytes() + prepared.scan_to_design.tobytes()
    return hashlib.sha256(data).hexdigest()[:16]


def _judged(wearer: SEALWRIGHT_PG_wearer, wanted: str) -> bool:
    return bool(wearer.judged_by.rpartition(":")[0] == wanted.rpartition(":")[0])


def _write(wearer: SEALWRIGHT_PG_wearer, prepared: Prepared, line: SealLine) -> None:
    from ..core.recipe import recipe_from_json
    from ..core.trust.skin_changes import changes_under_seal
    from ..core.trust.verdicts import seal_trust
    from .props import to_data

    band = recipe_from_json(to_data(wearer.recipe)).band
    trust = seal_trust(prepared, line, band)
    matrix = face_matrix(wearer)
    wearer.sectors.clear()
    for sector in trust.sectors:
        row = wearer.sectors.add()
        row.name, row.verdict = sector.sector, sector.verdict
        row.reason = " ".join(reason.text for reason in sector.reasons)
        row.fix = " ".join(dict.fromkeys(reason.fix for reason in sector.reasons))
        row.point = to_world(matrix, sector.point_mm).tolist()
    wearer.skin_changes = changes_under_seal(prepared, line, band, trust).sentence


def headline(sectors: Any) -> str:
    """The one verdict of the whole line."""
    count = {word: sum(row.verdict == word for row in sectors) for word in WORDS}
    said = [
        told(COUNTED[word], count=count[word], all=len(sectors)) for word in (RESCAN, DOUBTFUL) if count[word]
    ]
    if not said:
        return told("Scanned skin under the seal: good all round.")
    return told("Scanned skin under the seal: {verdicts}.", verdicts=", ".join(said))


def notable_sectors(sectors: Any) -> list[tuple[int, Any]]:
    """The sectors that are not good with their numbers, the worst first."""
    rows = [(index, row) for index, row in enumerate(sectors) if row.verdict != GOOD]
    return sorted(rows, key=lambda item: item[1].verdict != RESCAN)
