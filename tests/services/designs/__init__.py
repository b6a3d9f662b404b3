"""Tests of writes about designs."""
