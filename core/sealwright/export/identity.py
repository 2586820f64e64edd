"""Whose mask it is: the few words that stand on every folder, report, print file and row of a table."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass

from ..errors import BadRecipe, Where

MOST_LETTERS = 80
UNNAMED = "not named"


@dataclass(frozen=True)
class Identity:
    """What tells one design from any other.

    Attributes
    ----------
    wearer : label chosen by the maker, never taken from the scan; "" when none was given.
    scan_name : name of the scan file.
    scan_sha256 : of its bytes.
    options_sha256 : of all else that says how the scan is read (unit, landmarks, known length, second pose).
    recipe_sha256 : of the settings, without the version that wrote them.
    version : of the program.
    date : day on which it was made, year-month-day in UTC. It stands in the reports and the folder's list of
        files only; parts and 3MF are the same bytes on any day.
    """

    wearer: str = ""
    scan_name: str = ""
    scan_sha256: str = ""
    options_sha256: str = ""
    recipe_sha256: str = ""
    version: str = ""
    date: str = ""

    @property
    def design_id(self) -> str:
        """Sixteen hexadecimal digits of wearer, scan, way of reading, recipe and version."""
        return hashlib.sha256("\0".join((*self.same_design, self.version)).encode()).hexdigest()[:16]

    @property
    def same_design(self) -> tuple[str, str, str, str]:
        """What two folders of one design share; version and day may differ."""
        return (self.wearer, self.scan_sha256, self.options_sha256, self.recipe_sha256)

    @property
    def shown_wearer(self) -> str:
        """The label, or a word for none."""
        return self.wearer or UNNAMED

    def as_dict(self) -> dict[str, str]:
        """Plain data for reports and tables."""
        return {**asdict(self), "design_id": self.design_id}

    def metadata(self) -> dict[str, str]:
        """What a print file says: everything but the day, which would change its bytes."""
        words = {k: v for k, v in asdict(self).items() if k != "date"}
        return {**words, "wearer": self.shown_wearer, "design_id": self.design_id}

    def line(self) -> str:
        """In one line for reading."""
        return (
            f"Wearer {self.shown_wearer}, scan {self.scan_name} ({self.scan_sha256[:12]}), "
            f"design {self.design_id}"
        )


def checked_label(text: str) -> str:
    """A wearer's label without blanks around it.

    Raises
    ------
    BadRecipe : too long, or with characters that cannot be shown.
    """
    label = " ".join(text.split())
    if len(label) > MOST_LETTERS or not label.isprintable():
        raise BadRecipe(
            f"The wearer's label has {len(label)} characters, or some that cannot be shown.",
            Where("wearer", key="label"),
            f"Give at most {MOST_LETTERS} letters, digits and signs.",
        )
    return label
