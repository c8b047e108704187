"""A firing to look at: pictures and tables."""
