"""The sections of the fit report as plain data."""
