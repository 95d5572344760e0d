"""The questions a user asks: simulate, compare, propose."""
