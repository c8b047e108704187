"""What the fire does, judged from temperatures alone; pure, on a fixed grid of record time."""
