"""Kilns to practise on as TOML, checked."""
