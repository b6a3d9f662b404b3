"""Tests of tables, migrations and prepared statements."""
