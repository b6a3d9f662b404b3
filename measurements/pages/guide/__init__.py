"""The guide: how each test is wired, what the result means, what to do about a bad one.

All of it is data. One module per kind (insertion loss: one per family of methods), `the_bench` for what they
share, `flags` for what a result's flags mean, `drawings` for the pictures. `contents` is the way in.
"""
