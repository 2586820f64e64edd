"""The true size of a scan: stated unit, known length, or an object of known size in it."""
