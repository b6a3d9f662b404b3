"""The member account: sign-in, sessions, tokens, reauthentication."""
