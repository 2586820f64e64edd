# SPDX-License-Identifier: GPL-3.0-or-later
"""The steps of the job, one file per panel."""
