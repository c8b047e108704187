"""The memory: scans, findings and alarm changes in one SQLite file, sealed into compressed blocks."""
