"""The words of the customer's pages, one table a language, with its numbers and dates."""
