"""Electrical checks: each limit against the wiring, and a finding for every one of them."""
