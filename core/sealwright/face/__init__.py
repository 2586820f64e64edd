"""The face surface: one radial sheet of skin round the mask region, measured or guessed."""
