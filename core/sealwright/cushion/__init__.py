"""The soft layer between band and skin: foam strip, cast silicone lip, printed liner."""
