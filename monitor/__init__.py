"""Nightstoke: a watch that never sleeps and a memory that outlives the firing."""
