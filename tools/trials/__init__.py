"""Trials of scans with known truth: seeded damage, open faces, outcomes; for tests and long runs alike."""
