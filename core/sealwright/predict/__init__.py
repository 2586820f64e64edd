"""What is expected of a design on its wearer, in other poses too: the physics with its own numbers."""
