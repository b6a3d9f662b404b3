"""What a set of devices says about a design: population statistics and the rules of the verdict.

Pure functions over numbers; no Django, no identities. Start reading at `band_verdict.py`.
"""
