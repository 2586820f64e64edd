# SPDX-License-Identifier: GPL-3.0-or-later
"""What lies in the .blend file for a wearer: properties, objects, units and frames, read for the core."""
