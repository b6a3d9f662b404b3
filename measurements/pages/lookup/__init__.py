"""Look up my build: typed as people say it, answered on one page."""
