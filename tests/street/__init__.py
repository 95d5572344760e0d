"""A street of invented sites: each with weather of its own, every command, and a second opinion."""
