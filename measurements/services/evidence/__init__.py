"""Evidence: which tests count, and which wait for their owner's word on the recipe."""
