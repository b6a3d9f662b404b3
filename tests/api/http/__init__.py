"""Tests of paging, problems, negotiation, throttling and tags of the API."""
