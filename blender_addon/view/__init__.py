# SPDX-License-Identifier: GPL-3.0-or-later
"""What is shown: parts, maps, marks and legends in the 3D view, verdict rows, messages; starts no step."""
