"""Ways in: each file turns one kind of line or bus into packs; nothing here judges a value."""
