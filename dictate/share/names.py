"""Names in the environment of the process that draws a second screen."""

SOCKET_VARIABLE = "DICTATE_SHARE_SOCKET"
SEAT_VARIABLE = "DICTATE_SHARE_SEAT"
