"""The fit report as one self-contained HTML page."""
