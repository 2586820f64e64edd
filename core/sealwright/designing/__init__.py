"""Recipe plus prepared scan -> design: one sequence of stages with a quality."""
