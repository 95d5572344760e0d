"""The customer's pages of an estimate: what is handed over, in the customer's language."""
