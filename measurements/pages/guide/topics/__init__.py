"""Pages of the guide that belong to no single kind of test: what to do, and in which order."""
