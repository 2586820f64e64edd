"""Windowless pictures by ray tracing: scene, camera, shading, annotations."""
