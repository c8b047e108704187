"""The contract on the wire: packs, serial lines, recordings, scan identity; pure."""
