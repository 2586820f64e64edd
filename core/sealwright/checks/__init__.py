"""Measurements of a finished design: gap, wall, clearance, overhang, soundness of the solids."""
