"""The people: when they stoke, what they set, what they get wrong."""
