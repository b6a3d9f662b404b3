"""The first page: find a design for given bands."""
