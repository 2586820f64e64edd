# SPDX-License-Identifier: GPL-3.0-or-later
"""The panels: one sidebar tab, in the order of the job."""
