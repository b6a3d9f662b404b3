"""Devices and the contributors who own them."""
