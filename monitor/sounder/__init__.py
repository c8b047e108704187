"""The host's own voice: patterns, players, and the vigil over the service."""
