"""Folders made durable: what some file systems cannot do is not needed, what fails is told."""

from __future__ import annotations

import errno
import os
import stat
import sys
from pathlib import Path

import pytest

from soapbench.logfile.durable import make_folder

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="folders are not synced there")


def test_each_folder_made_is_synced_into_the_one_above(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[int] = []

    def fsync(fd: int) -> None:
        assert stat.S_ISDIR(os.fstat(fd).st_mode)
        synced.append(os.fstat(fd).st_ino)

    monkeypatch.setattr(os, "fsync", fsync)
    make_folder(tmp_path / "a" / "b")
    assert (tmp_path / "a" / "b").is_dir()
    assert synced == [tmp_path.stat().st_ino, (tmp_path / "a").stat().st_ino]
    synced.clear()
    make_folder(tmp_path / "a" / "b")
    assert synced == [], "it is there"


@pytest.mark.parametrize(
    ("code", "raised"),
    [(errno.EINVAL, False), (errno.ENOTSUP, False), (errno.EIO, True), (errno.ENOSPC, True)],
)
def test_a_folder_that_knows_no_sync_is_as_good_and_a_failing_disk_is_told(
    code: int, raised: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fsync(fd: int) -> None:
        raise OSError(code, "as the disk says")

    monkeypatch.setattr(os, "fsync", fsync)
    if raised:
        with pytest.raises(OSError, match="as the disk says"):
            make_folder(tmp_path / "a")
    else:
        make_folder(tmp_path / "a")
        assert (tmp_path / "a").is_dir()
