"""What the maker drew or modelled, made to follow the skin: shells over outlines, trimmed meshes."""
