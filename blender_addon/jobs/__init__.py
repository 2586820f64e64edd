# SPDX-License-Identifier: GPL-3.0-or-later
"""Steps of the job: what they need, gathering, running the core bit by bit, committing what it made."""
