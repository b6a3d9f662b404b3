"""Pages of the pool of groups: joining it and what it brought, and each member's own choice."""
