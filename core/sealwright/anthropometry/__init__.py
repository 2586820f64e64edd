"""Published statistics of adult faces and what follows for sizes."""
