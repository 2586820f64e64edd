"""The face surface: one radial sheet of skin round the mask region, with what is measured and what is guessed."""
