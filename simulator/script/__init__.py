"""What goes wrong in a firing, and the scenarios made of it."""
