"""From raw triangles to one oriented surface: welding, folds, spikes, seams, winding."""
