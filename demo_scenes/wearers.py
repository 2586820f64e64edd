"""The invented wearers of the demonstrations. Names and measures are made up; nobody was measured."""

from __future__ import annotations

from .procedural_head import Wearer

MARLO = Wearer(name="Marlo")
"""Restores furniture; medium face (near panel cells 4 and 7, docs/standards 1.3). The main demonstration."""

TINKA = Wearer(
    name="Tinka",
    face_length_mm=105.5,
    face_width_mm=128.0,
    nose_length_mm=45.0,
    nose_breadth_mm=31.5,
    nose_protrusion_mm=18.0,
    lip_length_mm=45.5,
    jaw_width_mm=98.0,
    cheek_fullness_mm=1.0,
    nose_hump_mm=-0.8,
)
"""Small face (panel cell 1)."""

OSSIAN = Wearer(
    name="Ossian",
    face_length_mm=130.0,
    face_width_mm=136.0,
    nose_length_mm=55.5,
    nose_breadth_mm=34.0,
    nose_protrusion_mm=22.5,
    lip_length_mm=51.0,
    jaw_width_mm=106.0,
    chin_forward_mm=2.0,
    cheek_fullness_mm=-1.5,
    nose_hump_mm=1.5,
    asymmetry_mm=1.5,
)
"""Long, narrow face (panel cell 9)."""

BRISA = Wearer(
    name="Brisa",
    face_length_mm=114.5,
    face_width_mm=149.0,
    nose_length_mm=47.5,
    nose_breadth_mm=39.5,
    nose_protrusion_mm=19.0,
    lip_length_mm=53.0,
    jaw_width_mm=118.0,
    chin_forward_mm=-2.0,
    cheek_fullness_mm=2.5,
)
"""Short, wide face (panel cell 5)."""

WEARERS = (MARLO, TINKA, OSSIAN, BRISA)
