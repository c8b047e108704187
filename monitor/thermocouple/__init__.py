"""Emf to temperature and back by the standard reference functions; pure."""
