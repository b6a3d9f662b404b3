"""How the API speaks HTTP: sign-in, limits, bodies, forms of a reply, problems, paging, idempotency and
caching.
"""
