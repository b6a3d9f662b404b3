"""Tests of writes about accounts."""
