"""Files a slicer or another program reads: STL and 3MF."""
