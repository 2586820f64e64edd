"""What cannot be right about a scan: an open mouth, a stretch, a second face, somebody else."""
