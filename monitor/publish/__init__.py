"""Ways out: HTTP, WebSocket, MQTT and metrics; nothing here decides."""
