"""Tests of the state of a device, its checklist and its fault search; no database."""
