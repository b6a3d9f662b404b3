"""State of a device, item by item: what its own newest tests and inspections support, and the guided
fault search.
"""
