"""Tests of writes about the demo."""
