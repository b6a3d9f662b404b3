"""Accounts: sign-in, membership, access tokens, and the security log."""
