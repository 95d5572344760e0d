"""The energy of many wirings from trackers that are solved once each."""
