"""The fit report: pictures, numbers with units and limits, cautions."""
