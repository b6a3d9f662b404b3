"""Files that come with tests: their roles, settings, limits and staging."""
