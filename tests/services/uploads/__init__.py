"""Tests of writes about uploads."""
