"""Every write of what is intended: asking for packs, storing and posting plans."""
