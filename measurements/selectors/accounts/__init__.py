"""Reads of accounts: viewers, members, tokens, sessions, the account export."""
