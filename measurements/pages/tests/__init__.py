"""Own tests: result page, charts, withdrawal."""
