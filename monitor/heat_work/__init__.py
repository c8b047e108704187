"""Heat work: what time and temperature together do to cones. An estimate; the cones in the kiln decide."""
