"""Cases that are kept: opened, shared by several stations, the visits of one animal."""
