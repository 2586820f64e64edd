"""From a file of unknown unit and pose to a trustworthy surface: read, scale, orient, find landmarks."""
