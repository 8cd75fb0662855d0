"""Writes generated batches (tests/oracle_fractions) as seeds of the target `whole`."""

import json
import pathlib
import sys

folder = pathlib.Path(sys.argv[1])
folder.mkdir(parents=True, exist_ok=True)
for i, line in enumerate(sys.stdin):
    batch = json.loads(line)
    folder.joinpath(f"generated_{i}").write_text(batch["sheet"] + "\n---\n" + batch["survey"], encoding="utf-8")
