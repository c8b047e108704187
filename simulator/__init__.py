"""A kiln to practise on: a simulated wood kiln that speaks the wire format of a real one."""
