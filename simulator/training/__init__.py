"""A person in the place of the scripted crew."""
