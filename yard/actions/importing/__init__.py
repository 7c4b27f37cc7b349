"""A yard's records in from a folder of CSV files, and out again."""
