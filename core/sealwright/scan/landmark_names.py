"""Names and definitions of the landmarks, in the usage of ISO 7250-1 and of surveys (from memory)."""

from __future__ import annotations

DEFINITIONS: dict[str, str] = {
    "glabella": "most anterior point of the forehead between the brow ridges",
    "sellion": "deepest point of the nasal root depression",
    "pronasale": "most anterior point of the nose tip",
    "subnasale": "where the lower border of the nose meets the upper lip",
    "stomion": "centre of the closed lips, or of the mouth opening",
    "supramenton": "deepest point of the groove between lower lip and chin",
    "pogonion": "most anterior point of the chin",
    "menton": "lowest point of the chin, where its front turns under",
    "alare_left": "most lateral point of the wearer's left nostril wing",
    "alare_right": "most lateral point of the wearer's right nostril wing",
    "subalare_left": "lower end of the wearer's left nostril wing, where it meets the upper lip",
    "subalare_right": "lower end of the wearer's right nostril wing, where it meets the upper lip",
    "cheilion_left": "the wearer's left corner of the mouth",
    "cheilion_right": "the wearer's right corner of the mouth",
    "endocanthion_left": "inner corner of the wearer's left eye",
    "endocanthion_right": "inner corner of the wearer's right eye",
    "exocanthion_left": "outer corner of the wearer's left eye",
    "exocanthion_right": "outer corner of the wearer's right eye",
}
"""Every name that may stand in a landmark file, with its meaning."""

NEEDED: tuple[str, ...] = ("sellion", "pronasale", "subnasale", "pogonion", "menton")
"""Midline landmarks without which no face frame is made."""

PLAIN: dict[str, str] = {
    "glabella": "Between the Brows",
    "sellion": "Nose Root",
    "pronasale": "Nose Tip",
    "subnasale": "Under the Nose",
    "stomion": "Middle of the Mouth",
    "supramenton": "Groove Above the Chin",
    "pogonion": "Front of the Chin",
    "menton": "Under the Chin",
    "alare_left": "Nostril Wing",
    "alare_right": "Nostril Wing",
    "subalare_left": "Foot of the Nostril Wing",
    "subalare_right": "Foot of the Nostril Wing",
    "cheilion_left": "Corner of the Mouth",
    "cheilion_right": "Corner of the Mouth",
    "endocanthion_left": "Inner Eye Corner",
    "endocanthion_right": "Inner Eye Corner",
    "exocanthion_left": "Outer Eye Corner",
    "exocanthion_right": "Outer Eye Corner",
}
"""The same in plain words, without the side."""


def side_of(name: str) -> str:
    """The wearer's "left" or "right", or "middle"."""
    side = name.rpartition("_")[2]
    return side if side in ("left", "right") else "middle"


def plain_name(name: str) -> str:
    """A landmark in plain words with its side, as a sentence holds it."""
    side, words = side_of(name), PLAIN.get(name, name.replace("_", " ").capitalize())
    return words if side == "middle" else f"{side.capitalize()} {words}"
