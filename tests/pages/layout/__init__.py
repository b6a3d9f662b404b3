"""Tests of the shared page furniture and static files."""
