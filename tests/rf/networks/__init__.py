"""Tests of two-port algebra and conversions between S and impedance."""
