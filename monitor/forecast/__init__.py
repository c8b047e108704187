"""When a temperature or a cone will be reached, with an interval that learns from its own misses."""
