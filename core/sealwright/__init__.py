"""Sealwright: from a 3D scan of a face to a printable mask body that seals on that face.

The core works in millimetres and newtons on NumPy arrays and knows no Blender.
"""

__version__ = "0.1.0"
