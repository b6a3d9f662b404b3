"""Tests of the pages about stewards' pages."""
