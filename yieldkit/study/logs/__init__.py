"""Logs of inverters and sensors: read, put on one clock, and what is left out of them and why."""
