"""Offline, hands-free charting of the veterinary dental examination."""
