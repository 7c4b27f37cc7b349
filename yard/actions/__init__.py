"""Every write: one named function that checks, changes and logs, in one transaction."""
