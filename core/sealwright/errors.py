"""Typed errors: every refusal says what is wrong, where, and how to mend it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Where:
    """The place an error speaks of.

    Attributes
    ----------
    role : what it is part of, in the maker's words ("scan", "seal line", "port 1", "recipe").
    point : (x, y, z) in mm in the frame named by ``frame``, or None when there is no place.
    frame : "scan" (the scan's own coordinates) or "face" (face frame, mm).
    indices : vertex, face or station indices, at most a few hundred.
    key : dotted recipe key, file name or table row, when the place is not geometric.
    spots : further places like ``point``, at most a few hundred.
    view : direction in the same frame from which the place is best seen or scanned; None where that is open.
    """

    role: str
    point: tuple[float, float, float] | None = None
    frame: str = "face"
    indices: tuple[int, ...] = ()
    key: str = ""
    spots: tuple[tuple[float, float, float], ...] = ()
    view: tuple[float, float, float] | None = None

    def __str__(self) -> str:
        parts = [self.role]
        if self.key:
            parts.append(self.key)
        if self.point is not None:
            x, y, z = self.point
            parts.append(f"at ({x:.1f}, {y:.1f}, {z:.1f}) mm in the {self.frame} frame")
        return ", ".join(parts)


class DesignError(Exception):
    """A refusal the user can act on.

    Parameters
    ----------
    what : one sentence with the numbers that matter.
    where : the place.
    fix : one sentence in the imperative.

    ``code`` is the stable name of the class of error, the same in every copy of the core. ``picture`` draws
    the place as PNG where somebody can, and ``drawn`` is where that picture was written.
    """

    code: str = "design"

    def __init__(self, what: str, where: Where | str, fix: str) -> None:
        self.what = what
        self.where = Where(where) if isinstance(where, str) else where
        self.fix = fix
        self.picture: Callable[[], bytes | None] | None = None
        self.drawn = ""
        super().__init__(self.paragraph())

    def also(self, fix: str) -> None:
        """Add a sentence to how it is mended; "" adds nothing."""
        if fix:
            self.fix = f"{self.fix} {fix}"
            self.args = (self.paragraph(),)

    def paragraph(self) -> str:
        """The error as one paragraph: what, where, how to mend it."""
        drawn = f" Picture: {self.drawn}" if self.drawn else ""
        return f"{self.what} Where: {self.where}. Mend: {self.fix}{drawn}"

    def as_dict(self) -> dict[str, object]:
        """The error for a JSON report."""
        return {
            "code": self.code,
            "what": self.what,
            "where": {
                "role": self.where.role,
                "key": self.where.key,
                "point_mm": list(self.where.point) if self.where.point else None,
                "frame": self.where.frame,
                "indices": list(self.where.indices),
            },
            "fix": self.fix,
        }


class UnreadableFile(DesignError):
    """The file is missing, empty, truncated, or not what its name says."""

    code = "unreadable-file"


class UnwritableFile(DesignError):
    """A result file cannot be written: no folder, no right, no room."""

    code = "unwritable-file"


class NoSurface(DesignError):
    """There are points but no triangles, or no triangles at all."""

    code = "no-surface"


class BadNumbers(DesignError):
    """NaN, infinity, or an index out of range in the arrays."""

    code = "bad-numbers"


class ImplausibleSize(DesignError):
    """The scan cannot be a face in the unit that was said."""

    code = "implausible-size"


class NotForChildren(DesignError):
    """The face is smaller than any adult's, and nobody has said that it is an adult's."""

    code = "not-for-children"


class NotAFace(DesignError):
    """No face was found where one is needed, or the orientation is not sure enough."""

    code = "not-a-face"


class ClosedSolid(DesignError):
    """A closed solid where an open face surface, or an open surface where a closed solid is needed."""

    code = "closed-solid"


class LandmarkMissing(DesignError):
    """A landmark is missing, off the skin, or contradicts the others."""

    code = "landmark"


class OffTheScan(DesignError):
    """The seal line or the band leaves the scanned skin."""

    code = "off-the-scan"


class SealLineCrossing(DesignError):
    """The seal line crosses itself, or skin it must never cross."""

    code = "seal-line"


class BadOutline(DesignError):
    """An outline drawn on the skin crosses itself or another one, or leaves no room for a shell."""

    code = "outline"


class DoesNotFit(DesignError):
    """A part has no room: port, band, lug, connector, holder."""

    code = "does-not-fit"


class Folds(DoesNotFit):
    """A side of the body folds through itself; the wall may do without its limits there."""

    code = "folds"


class BandFolds(Folds):
    """The contact band folds: a smoother seal line may help."""

    code = "band-folds"


class BandSinks(BandFolds):
    """The contact band lies so deep in the skin somewhere that trimming takes its edge away."""

    code = "band-sinks"


class TooNear(DoesNotFit):
    """The wall cannot keep the clearance that is asked; the port may stand elsewhere."""

    code = "too-near"


class BadRecipe(DesignError):
    """A recipe value is unknown, of the wrong type, or out of range."""

    code = "bad-recipe"


class BadSolid(DesignError):
    """A solid is open, inside out, self-overlapping or in several pieces."""

    code = "bad-solid"


class BooleanFailed(DesignError):
    """A boolean gave a status, volume or topology that cannot be right."""

    code = "boolean-failed"


class NotConverged(DesignError):
    """An iterative solution did not reach its tolerance."""

    code = "not-converged"


class BackendUnavailable(DesignError):
    """A library the core stands on is missing or too old."""

    code = "backend-unavailable"


class OutOfMemory(DesignError):
    """The work needs more memory than there is."""

    code = "out-of-memory"


@dataclass(frozen=True)
class Remark:
    """Something the maker should know, that does not stop the work.

    Attributes
    ----------
    level : "note", "warning" or "risk".
    text : one sentence.
    where : the place.
    """

    level: str
    text: str
    where: Where = field(default_factory=lambda: Where("design"))


def first_point(
    points: Sequence[Sequence[float]] | NDArray[np.floating],
) -> tuple[float, float, float] | None:
    """The first of some points (n, 3) as a plain tuple, or None when there are none."""
    return plain_point(points[0]) if len(points) else None


def plain_point(point: Sequence[float] | NDArray[np.floating]) -> tuple[float, float, float]:
    """A point (3,) as plain numbers, for `Where`."""
    x, y, z = (float(c) for c in point)
    return (x, y, z)
