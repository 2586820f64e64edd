"""How the parts come off the printer: orientation, slices, supports, allowances, mass and time."""
