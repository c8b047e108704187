"""From findings to alarms: states, delays, acknowledgement; pure."""
