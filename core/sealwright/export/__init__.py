"""Files for slicer, cutter and reader, whole or not at all, in a folder that says whose they are."""
