"""The environment is made once, made again when it is broken, and never in place of something else."""

import subprocess
import sys

import pytest

from deploy import virtualenv
from deploy.virtualenv import LOCK, ROOT, NotReadyError


@pytest.fixture
def venv(monkeypatch, tmp_path):
    """A place for an environment, with installing replaced by a note of what would be installed."""
    monkeypatch.setenv("BENCHNIGHT_VENV", str(tmp_path / "venv"))
    installed = []
    monkeypatch.setattr(virtualenv, "_install", lambda python, lock: installed.append(lock.name))
    return tmp_path / "venv", installed


def test_a_lock_is_installed_once(venv):
    place, installed = venv
    python = virtualenv.ensure_packages(LOCK)
    assert python == place / "bin" / "python"
    assert virtualenv.ensure_packages(LOCK) == python
    assert installed == ["lock.txt"]


def test_a_changed_lock_is_installed_again(venv, tmp_path):
    _, installed = venv
    lock = tmp_path / "lock.txt"
    lock.write_text("one==1\n")
    virtualenv.ensure_packages(lock)
    lock.write_text("one==2\n")
    virtualenv.ensure_packages(lock)
    assert installed == ["lock.txt", "lock.txt"]


def test_what_the_checks_installed_is_enough_for_the_server(venv):
    _, installed = venv
    virtualenv.ensure_packages(virtualenv.LOCK_CHECK)
    virtualenv.ensure_packages(LOCK)
    assert installed == ["lock-check.txt"]


def test_an_environment_whose_python_is_gone_is_made_again(venv, capsys):
    place, installed = venv
    python = virtualenv.ensure_packages(LOCK)
    python.unlink()
    python.symlink_to(place / "gone" / "python3")
    virtualenv.ensure_packages(LOCK)
    assert "making it again" in capsys.readouterr().out
    assert installed == ["lock.txt", "lock.txt"]


def test_a_directory_that_is_no_environment_is_left_alone(venv):
    place, _ = venv
    place.mkdir()
    (place / "letters").write_text("mine")
    with pytest.raises(NotReadyError, match="Move it away"):
        virtualenv.ensure_packages(LOCK)
    assert (place / "letters").read_text() == "mine"


def test_a_python_without_venv_says_which_package_to_install(venv, monkeypatch):
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    with pytest.raises(NotReadyError, match=r"apt-get install python3\.\d+-venv"):
        virtualenv.ensure_packages(LOCK)


def test_an_installer_that_fails_shows_its_last_lines(monkeypatch, tmp_path):
    lock = tmp_path / "lock.txt"
    lock.write_text("not a requirement at all\n")
    with pytest.raises(NotReadyError, match=r"(?s)could not be installed.*Invalid requirement"):
        virtualenv._install(virtualenv.Path(sys.executable), lock)


def find_python(directory) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["/bin/sh", str(ROOT / "deploy" / "find-python")],
        env={"PATH": str(directory)}, capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_a_newer_python_is_found_behind_an_old_one(tmp_path):
    old = tmp_path / "python3"
    old.write_text("#!/bin/sh\nexit 1\n")
    old.chmod(0o755)
    (tmp_path / "python3.12").symlink_to(sys.executable)
    assert find_python(tmp_path).stdout.strip() == str(tmp_path / "python3.12")


def test_no_python_at_all_says_what_to_install(tmp_path):
    done = find_python(tmp_path)
    assert done.returncode == 1
    assert "3.11 or newer" in done.stderr
