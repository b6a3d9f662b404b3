"""Rights of the database role that serves, where another role owns the tables: rows, of the log new ones."""

from __future__ import annotations

from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder

from measurements.errors import BenchnightError
from measurements.models import AuditEntry

ROWS = "SELECT, INSERT, UPDATE, DELETE"
# tables of which the service may do less than write rows
LESS = {
    AuditEntry._meta.db_table: "SELECT, INSERT",
    MigrationRecorder.Migration._meta.db_table: "SELECT",
}


def grant_rights(role: str) -> int:
    """Grant `role` what serving takes, on tables of now and of later migrations; answers how many there are.

    Called by the owner of the tables, who is another role. Raises BenchnightError `rights.engine`,
    `rights.role` where the role is unknown or owns the tables itself.
    """
    if connection.vendor != "postgresql":
        raise BenchnightError("rights.engine", "Only PostgreSQL has roles: SQLite is a file of its owner.")
    quote = connection.ops.quote_name
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "SELECT current_user, current_schema(), EXISTS (SELECT 1 FROM pg_roles WHERE rolname = %s)",
            [role],
        )
        owner, schema, known = cursor.fetchone()
        if not known or owner == role:
            raise BenchnightError(
                "rights.role",
                f"The role {role} owns the tables itself or is not known. Make it with: createuser {role}",
            )
        to, within = quote(role), quote(schema)
        cursor.execute(f"REVOKE ALL ON ALL TABLES IN SCHEMA {within} FROM {to}")
        cursor.execute(f"GRANT USAGE ON SCHEMA {within} TO {to}")
        cursor.execute(f"GRANT {ROWS} ON ALL TABLES IN SCHEMA {within} TO {to}")
        cursor.execute(f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA {within} TO {to}")
        for table, rights in LESS.items():
            cursor.execute(f"REVOKE ALL ON {quote(table)} FROM {to}")
            cursor.execute(f"GRANT {rights} ON {quote(table)} TO {to}")
        later = f"ALTER DEFAULT PRIVILEGES IN SCHEMA {within} GRANT"
        cursor.execute(f"{later} {ROWS} ON TABLES TO {to}")
        cursor.execute(f"{later} USAGE, SELECT ON SEQUENCES TO {to}")
    return len(connection.introspection.table_names())
