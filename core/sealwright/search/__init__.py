"""Designs that are better than a given one: objectives, decisions, evolutionary search."""
