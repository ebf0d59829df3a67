"""Looks into evidence packs with zipfile and hashlib, and checks the session in them as the pack's
own README tells."""

import hashlib
import json
import subprocess
import sys
import tempfile
import zipfile
from datetime import datetime, timezone
from pathlib import Path


def check(paths, sessions):
    """How many members were what their pack says they are."""
    assert len(paths) == 2, paths
    originals = {path.name: path.read_bytes() for path in sessions}
    return sum(one(path, originals) for path in paths)


def one(path, originals):
    with zipfile.ZipFile(path) as pack:
        assert pack.testzip() is None
        contents = {info.filename: pack.read(info) for info in pack.infolist()}
        moments = {info.date_time for info in pack.infolist()}
    manifest = json.loads(contents["manifest.json"])
    listed = {member["name"]: member for member in manifest["members"]}
    assert contents.keys() == listed.keys() | {"manifest.json", "SHA256SUMS"}, path
    for name, member in listed.items():
        assert len(contents[name]) == member["bytes"], f"{path}: {name}"
        assert hashlib.sha256(contents[name]).hexdigest() == member["sha256"], f"{path}: {name}"
    started = manifest["session"]["started"]
    began = datetime.fromisoformat(started[:19] + started[-6:]).astimezone(timezone.utc)
    (moment,) = moments
    # Two seconds are as fine as the archive knows.
    assert 0 <= (began.replace(tzinfo=None) - datetime(*moment)).total_seconds() < 2, f"{path}: {moment}"
    assert contents["session.prony"] == originals[manifest["session"]["file"]], path
    findings = json.loads(contents["findings.json"])
    assert findings["session"]["id"] == manifest["session"]["id"]
    for name in ("script", "claims", "decision_rule"):
        document = findings["session"][name]
        member = contents.get(name.replace("_", "-") + ".ron")
        assert (document is None) == (member is None), f"{path}: {name}"
        if member is not None:
            assert hashlib.sha256(member).hexdigest() == document["sha256"], f"{path}: {name}"
    with tempfile.TemporaryDirectory() as folder:
        with zipfile.ZipFile(path) as pack:
            pack.extractall(folder)
        for command in (["sha256sum", "--quiet", "-c", "SHA256SUMS"], [sys.executable, "seal_check.py", "session.prony"]):
            said = subprocess.run(command, cwd=folder, capture_output=True, text=True)
            assert said.returncode == 0, f"{path}: {command}: {said.stdout}{said.stderr}"
        assert said.stdout.strip() == manifest["session"]["last_seal"], f"{path}: {said.stdout}"
        assert said.stdout.strip() in Path(folder, "README.txt").read_text(encoding="utf-8")
    return len(contents)
