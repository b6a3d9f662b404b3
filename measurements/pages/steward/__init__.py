"""Pages for stewards: review, merging, accounts, reference data."""
