"""What-if batches: a plan's runs, computed once each, kept in parts, and put into one table."""
