"""Words of the report that a maker need not know, and landmarks by what one sees on a face."""

from __future__ import annotations

from ..mesh import Floats

WORDS: tuple[tuple[str, str], ...] = (
    ("Seal line", "The closed line on the skin along which the mask seals."),
    ("Contact band", "The strip of skin on both sides of the seal line that the mask lies on."),
    ("Chamber", "The room between face and wall that is breathed in."),
    ("Dead space", "Used air that stays in the mask and is breathed in again with the next breath."),
    (
        "Fit factor",
        "Particles outside over particles inside. 100 means that one part in a hundred of what is "
        "breathed in came past the seal or through the filter.",
    ),
    ("Medium", "The sheet that filters."),
    (
        "kPa, Pa",
        "Pressure. 1 kPa is 1000 Pa: the weight of about 10 g on each square centimetre, or 7.5 mmHg.",
    ),
    (
        "Capillary pressure",
        "4.27 kPa (32 mmHg): above it the finest blood vessels may be pressed shut. A usual figure, "
        "measured in fingers, not in faces.",
    ),
    ("Newton (N)", "Pull of a strap; 10 N is the weight of 1 kg."),
    ("Bridge, ledge", "A strand printed in the air between two ends, or held on one side only."),
    ("Face frame", "X to the wearer's left, -Y out of the face, Z up; from where nose and upper lip meet."),
    ("V, M, C", "V: read on a secondary page. M: from memory or practice, not verified. C: computed here."),
)

_SEEN = {
    "glabella": "middle of the brow",
    "sellion": "root of the nose",
    "pronasale": "tip of the nose",
    "subnasale": "foot of the nose",
    "stomion": "middle of the mouth",
    "supramenton": "groove under the lower lip",
    "pogonion": "front of the chin",
    "menton": "bottom of the chin",
    "alare": "nostril wing",
    "subalare": "foot of the nostril wing",
    "cheilion": "corner of the mouth",
    "endocanthion": "inner corner of the eye",
    "exocanthion": "outer corner of the eye",
}


def seen_landmark(name: str) -> str:
    """A landmark by what one sees, with its name: ``left nostril wing (alare_left)``."""
    root, _, side = name.partition("_")
    seen = _SEEN.get(root)
    if seen is None:
        return name.replace("_", " ")
    return f"{side} {seen} ({name})" if side else f"{seen} ({name})"


def side_on_bed(up: Floats | list[float]) -> str:
    """Which side of a part lies on the bed, for a direction (3,) in the face frame that points up."""
    x, y, z = (-float(c) for c in up)
    sides = {
        "front": -y,
        "back": y,
        "wearer's left side": x,
        "wearer's right side": -x,
        "top": z,
        "bottom": -z,
    }
    return max(sides, key=lambda name: sides[name]) + " down"
