"""Tests of many sweeps analysed at once."""
