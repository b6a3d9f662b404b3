"""Tests of writes about the operation of a server."""
