"""Two servers with a database, a key and a process each: the commands carry a night of sixty devices home."""

import json
import os
import re
import signal
import sqlite3
import subprocess
import sys
import time

import pytest

from deploy.virtualenv import ROOT

DEVICES = 60
HOLD_NIGHT = f"""
import sys
from measurements.services.reference import reference_files
from measurements.services.nights import persons
from tests import factories
from tests.services.bundles import two_servers
night, devices, recorded = two_servers.hold_night(people={DEVICES // 3}, devices_each=3)
persons.confirm_guests(by=factories.member("box-head", "steward"), night=night)
print(night)
"""
COUNT_PERSONS = """
from measurements.models import Contributor
from measurements.services.devices import contributors
from measurements.services.nights import persons
from measurements.models import Night
from tests import factories
night = Night.objects.get().key
def count():
    rows = Contributor.objects.annotate(person_key=contributors.build_person_key())
    return len(set(rows.values_list("person_key", flat=True)))
before = count()
persons.confirm_guests(by=factories.member("head", "steward"), night=night)
print(before, count())
"""


class Server:
    """One server: its own directory of run-time data."""

    def __init__(self, var):
        self.var = var
        ours = {"BENCHNIGHT_VAR": str(var), "BENCHNIGHT_SECRET_KEY": "k" * 60, "BENCHNIGHT_DATABASE_URL": ""}
        self.environment = {**os.environ, **ours}  # each on its embedded database

    def manage(self, *words):
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
            timeout=600,
        )
        assert done.returncode == 0, done.stderr[-2000:]
        return done.stdout

    def copy_database(self, other):
        """Begin with the database of another server, which has ended."""
        (self.var / "benchnight.sqlite3").write_bytes((other.var / "benchnight.sqlite3").read_bytes())

    def ask(self, statement):
        with sqlite3.connect(self.var / "benchnight.sqlite3") as database:
            return database.execute(statement).fetchall()


@pytest.fixture(scope="module")
def servers(tmp_path_factory):
    """A field box with its night, a home, and the bundle between them."""
    home, field = (Server(tmp_path_factory.mktemp(name)) for name in ("home", "field"))
    home.manage("migrate", "-v", "0")
    home.manage("load_reference", "-v", "0")
    field.copy_database(home)
    night = field.manage("shell", "-v", "0", "-c", HOLD_NIGHT).split()[-1]
    bundle = field.var / "night.zip"
    field.manage("export_bundle", "--night", night, str(bundle))
    home.manage("trust_key", field.manage("bundle_key").strip(), "--name", "Field box")
    third = Server(tmp_path_factory.mktemp("third"))
    third.copy_database(home)  # before anything came
    return home, field, bundle, third


def _read_counts(printed):
    return json.loads(printed.splitlines()[-1])


def test_a_night_off_the_grid_comes_home(servers):
    home, field, bundle, _ = servers
    begun = time.monotonic()
    shown = home.manage("import_bundle", str(bundle))
    assert home.ask("SELECT COUNT(*) FROM measurements_device") == [(0,)]
    shown_s, begun = time.monotonic() - begun, time.monotonic()
    done = home.manage("import_bundle", str(bundle), "--apply")
    done_s = time.monotonic() - begun
    assert shown == done
    counts = _read_counts(done)
    assert counts["new"] >= 2 * DEVICES and counts["changed"] == counts["conflicts"] == 0
    for same in (
        "SELECT key, tag FROM measurements_device ORDER BY key",  # labels scan: a label is the key
        "SELECT t.key, f.role, f.raw_sha256 FROM measurements_sweepfile f "
        "JOIN measurements_test t ON t.id = f.test_id ORDER BY 1, 2",
        "SELECT t.key, r.figures FROM measurements_result r "
        "JOIN measurements_test t ON t.id = r.test_id ORDER BY 1",
        "SELECT recipe_sha256 FROM measurements_design",
    ):
        assert home.ask(same) == field.ask(same) != []
    again = _read_counts(home.manage("import_bundle", str(bundle), "--apply"))
    assert again == {"new": 0, "changed": 0, "unchanged": sum(counts.values()), "conflicts": 0}
    print(f"{DEVICES} devices, {bundle.stat().st_size} bytes: shown {shown_s:.1f} s, applied {done_s:.1f} s")
    print(counts)
    # unconfirmed guests are one person together; the steward's word makes each of them one
    before, after = home.manage("shell", "-v", "0", "-c", COUNT_PERSONS).split()[-2:]
    assert (int(before), int(after)) == (1, DEVICES // 3)


def test_the_public_key_is_one_line(servers):
    home, field, *_ = servers
    key = field.manage("bundle_key")
    assert re.fullmatch(r"[0-9a-f]{64}\n", key) and key != home.manage("bundle_key")
    assert (field.var / "bundle_key").stat().st_mode & 0o777 == 0o600


def test_a_killed_import_leaves_nothing_and_is_done_again(servers):
    _, _field, bundle, third = servers
    command = [sys.executable, "manage.py", "import_bundle", str(bundle), "--apply"]
    begun = time.monotonic()
    third.manage("import_bundle", str(bundle))  # how long one takes on this machine
    whole_s = time.monotonic() - begun
    for part in (0.5, 0.9):
        running = subprocess.Popen(command, cwd=ROOT, env=third.environment, stdout=subprocess.DEVNULL)
        time.sleep(part * whole_s)
        running.send_signal(signal.SIGKILL)
        running.wait()
        assert third.ask("SELECT COUNT(*) FROM measurements_device")[0][0] in (0, DEVICES)
    third.manage("import_bundle", str(bundle), "--apply")
    assert third.ask("SELECT COUNT(*) FROM measurements_device") == [(DEVICES,)]
    assert third.ask("SELECT COUNT(*) FROM measurements_test") == [(DEVICES,)]
