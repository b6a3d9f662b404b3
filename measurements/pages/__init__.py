"""The HTML door: urls, views, forms, templates and static files.

Views call `ingest` and `queries` and never see a table. Start reading at `urls.py`.
"""
