"""The HTML door: urls, views, forms, templates and static files.

Views call `services` and `selectors` and never see a table. Start reading at `urls.py`.
"""
