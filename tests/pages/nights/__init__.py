"""Tests of the pages about club nights."""
