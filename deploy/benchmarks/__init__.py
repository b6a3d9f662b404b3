"""The benchmarks behind `deploy/bench`: how near Benchnight is to what the parts below it can do.

Every figure is a ratio to a floor that is taken in the same run, on the same machine and the same server
stack (gunicorn, PostgreSQL), in turns with what is measured, so that a noisy neighbour hits both.
`start` installs, `table` runs everything, one module per subject measures; `stack` starts the servers,
`filling` makes seeded data sets, `floor` is the bare Django application that is compared against.
Nothing here is part of the product, and nothing of the product imports it.
"""
