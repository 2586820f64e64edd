"""Anthropometric landmarks with confidence, and the face frame they define."""
