"""From a junction in the kiln to what a converter tells, with every fault between."""
