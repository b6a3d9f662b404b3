"""What happens when things break: long, bounded, on this machine only. `deploy/check --faults` runs them."""
