"""The REST door, /api/v1/: urls, views, serializers, problems, and the committed openapi.yaml.

Views call `measurements.services`, `measurements.selectors` and `measurements.charts` and never see a
table. Start reading at `urls.py`; every error leaves through `problems.py`.
"""
