"""Directories of others and of everybody are never closed by ours."""

from __future__ import annotations

import stat

from deploy import private_files


def mode(path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_directory_that_is_not_clearly_ours_is_left_as_it_is(tmp_path):
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o755)
    private_files.make_private_directory(shared)
    assert mode(shared) == 0o755
    (shared / "secret_key").touch()
    private_files.make_private_directory(shared)
    assert mode(shared) == 0o700


def test_a_place_for_everybody_stays_one(tmp_path):
    """As /tmp is: root may have given it as BENCHNIGHT_VAR."""
    everybody = tmp_path / "tmp"
    everybody.mkdir()
    everybody.chmod(0o1777)
    (everybody / "secret_key").touch()
    private_files.protect_files(everybody)
    assert mode(everybody) == 0o1777


def test_rights_are_only_taken(tmp_path):
    var = tmp_path / "var"
    private_files.make_private_directory(var)
    file = var / private_files.DATABASE
    file.touch()
    file.chmod(0o444)
    private_files.protect_files(var)
    assert mode(file) == 0o400


def test_a_link_leads_nowhere(tmp_path):
    var, target = tmp_path / "var", tmp_path / "elsewhere.zip"
    private_files.make_private_directory(var)
    (var / "backups").mkdir()
    target.touch()
    target.chmod(0o644)
    (var / "backups" / "link.zip").symlink_to(target)
    (var / private_files.DATABASE).touch()
    private_files.protect_files(var)
    assert mode(target) == 0o644
