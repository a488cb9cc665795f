"""From photo pixels to millimetres."""
