"""Check my sweep: for anybody, without an account."""
