# SPDX-License-Identifier: GPL-3.0-or-later
"""Sealwright in Blender: the panels, operators and drawing around the geometry core in ``core``.

Registering needs no compiled library; the core's heavy modules are imported by the steps that use them.
"""

from __future__ import annotations

from . import registry


def register() -> None:
    """Called by Blender when the extension is switched on."""
    registry.register()


def unregister() -> None:
    """Called by Blender when the extension is switched off."""
    registry.unregister()
