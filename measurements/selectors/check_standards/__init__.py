"""Check standards: their charts, the offsets of benches, and the tests that wait for them."""
