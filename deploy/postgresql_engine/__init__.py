"""Django's engine for PostgreSQL, as `DATABASES` names it; see base.py."""
