"""Reads for the operation of the server: audit log and figures."""
