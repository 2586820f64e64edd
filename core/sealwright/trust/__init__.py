"""Whether the scanned skin under the seal can be trusted, sector by sector, and why not."""
