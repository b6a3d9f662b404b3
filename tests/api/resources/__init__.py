"""Tests of the API's resources, one module each."""
