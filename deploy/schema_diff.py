"""Compares api/openapi.yaml with what the code describes, and prints the difference.

python -m deploy.schema_diff            fails when they differ, or when drf-spectacular warns
python -m deploy.schema_diff --write    makes the file anew
"""

from __future__ import annotations

import difflib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from deploy.virtualenv import ROOT

COMMITTED = ROOT / "api" / "openapi.yaml"


def generate_schema(directory: Path) -> str | None:
    """Return the schema of the code as it stands, or None after its warnings were printed."""
    fresh = directory / "openapi.yaml"
    command = ["manage.py", "spectacular", "--validate", "--fail-on-warn", "--file", str(fresh)]
    done = subprocess.run([sys.executable, *command], cwd=ROOT, env=dict(os.environ), check=False)
    return fresh.read_text(encoding="utf-8") if done.returncode == 0 else None


def main(arguments: list[str]) -> int:
    with tempfile.TemporaryDirectory() as directory:
        fresh = generate_schema(Path(directory))
    if fresh is None:
        return 1
    if arguments == ["--write"]:
        COMMITTED.write_text(fresh, encoding="utf-8")
        return 0
    committed = COMMITTED.read_text(encoding="utf-8") if COMMITTED.exists() else ""
    if fresh == committed:
        return 0
    difference = difflib.unified_diff(
        committed.splitlines(), fresh.splitlines(), "api/openapi.yaml", "the code", lineterm=""
    )
    sys.stdout.write("\n".join(difference) + "\n")
    sys.stdout.write(
        "Make it anew with `python -m deploy.schema_diff --write` and say so in api/CHANGES.md.\n"
    )
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
