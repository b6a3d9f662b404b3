"""Check standards: their charts, marking a device as one, and deciding about tests that wait."""
