"""What a measurement means: rules over measurements, one table of limits."""
