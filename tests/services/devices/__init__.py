"""Tests of writes about devices."""
