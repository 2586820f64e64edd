"""The facepiece: seal line, contact band, chamber wall, and the solid body they make."""
