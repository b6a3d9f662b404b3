"""Tests of the pages about accounts."""
