"""Reference data: band plan, benchmarks, conductors and group settings."""
