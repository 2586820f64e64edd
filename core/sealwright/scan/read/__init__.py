"""Mesh files of many kinds -> vertices and triangles, with what the file says of its unit."""
