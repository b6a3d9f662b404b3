"""Tests of the pages about devices."""
