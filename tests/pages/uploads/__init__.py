"""Tests of the pages about uploads."""
