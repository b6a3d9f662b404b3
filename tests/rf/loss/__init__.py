"""Tests of the methods of insertion loss."""
