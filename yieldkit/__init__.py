"""yieldkit."""
