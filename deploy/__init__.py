"""Assembles the application: settings, urls, wsgi, and the commands run, check and bench."""
