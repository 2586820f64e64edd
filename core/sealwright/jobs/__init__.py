"""Whole jobs for the headless user: folder, refit, search, demo, and the command line before them."""
