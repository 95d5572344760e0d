"""Pictures, each with its caption and alternative text."""
