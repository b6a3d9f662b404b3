"""What tests of migrations share."""

from __future__ import annotations

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor


@pytest.fixture
def go_to():
    """Migrates to a state and answers its models; leaves the database at the newest state."""

    def move(target):
        executor = MigrationExecutor(connection)
        executor.migrate([target])
        return executor.loader.project_state([target]).apps.get_model

    yield move
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())
