"""From a node to its host: memory, line, broker, recording, with every fault between."""
