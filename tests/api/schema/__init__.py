"""Tests of the committed OpenAPI description and its growth."""
