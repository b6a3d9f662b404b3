"""Every write, by feature: check, compute, store, audit, in one transaction."""
