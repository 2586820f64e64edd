"""Predictions before printing: contact pressure, leak, breathing, comfort, sizing."""
