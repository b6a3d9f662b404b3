"""Errors of instruments and jigs, and checks that a sweep can be believed."""
