"""The plain service: what somebody would write in an afternoon, as the measure of Benchnight's own speed.

REST framework serializers, `skrf.Network`, numpy, rows through the ORM, one curve as JSON. It makes none
of Benchnight's checks and promises: no limits, no audit, no nights, no flags, no uncertainty, no rule about
what may be published.
"""
