"""What begins processes may be killed at any moment, and none of them is left behind.

The outside judge is the system, which tells what still runs (`/proc`).
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest
from child_processes import children_of, gone
from conftest import ROOT

EXPORT = """
import sys
from pathlib import Path
from refdb.browse.export import written
store, folder = map(Path, sys.argv[1:])
pairs = ["/suits?glass=clear-hard-lead-free&metal=copper-sheet"] * 40_000
written._found = lambda site, wanted: ({}, pairs)
if __name__ == "__main__":
    written.export(store, folder, lambda done, total: None, workers=2)
"""
PIECES = """
import sys
from pathlib import Path
from refdb.judge.piece.verdict import judge_pieces
from refdb.plan.piecefile import parse_piece
from refdb.store.reference import Reference
if __name__ == "__main__":
    with Reference(Path(sys.argv[1])) as ref:
        text = Path("refdb/plan/new_piece.toml").read_text(encoding="utf-8")
        pieces = [parse_piece(text.replace("42 mm", f"{w} mm"), ref) for w in range(30, 60)] * 100
        judge_pieces(ref, pieces, workers=2)
"""


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="tells processes by /proc")
@pytest.mark.parametrize(
    "script", [pytest.param(EXPORT, id="export"), pytest.param(PIECES, id="pieces", marks=pytest.mark.slow)]
)
def test_no_process_outlives_the_one_that_began_it(script, store, tmp_path):
    program = tmp_path / "program.py"
    program.write_text(script, encoding="utf-8")
    words = [sys.executable, str(program), str(store), str(tmp_path / "pages")]
    started = subprocess.Popen(words, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)})
    helpers = []
    try:
        until = time.monotonic() + 60
        while len(helpers) < 2 and started.poll() is None and time.monotonic() < until:
            helpers = children_of(started.pid)
            time.sleep(0.05)
        assert len(helpers) == 2
        # Until each has begun to help.
        time.sleep(2)
        assert helpers == children_of(started.pid)
        started.kill()
        started.wait(20)
        assert gone(helpers)
    finally:
        started.kill()
        for pid in helpers:
            if not gone([pid], 0.1):
                os.kill(pid, signal.SIGKILL)
