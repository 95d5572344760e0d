"""Every permitted wiring ranked, and what to tell of the best."""
