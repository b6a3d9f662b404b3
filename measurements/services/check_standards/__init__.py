"""Check standards: marking one, holding back the tests of a session that it finds out of control."""
