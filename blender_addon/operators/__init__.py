# SPDX-License-Identifier: GPL-3.0-or-later
"""The buttons of the job: one operator per step, one file per panel."""
