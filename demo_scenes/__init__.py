"""Demonstration scenes: invented wearers, a procedural head, a simulated sensor."""
