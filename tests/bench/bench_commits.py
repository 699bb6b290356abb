"""What it costs on SQLite that acknowledged writes outlive a power cut (synchronous=FULL).

`python -m tests.bench.bench_commits [FOLDER]`: commits of one small row with both settings, in
turns, on a database in the folder, which should be on the disk that the service will use. Baseline:
synchronous=NORMAL, with which a power cut may take back the last commits.
"""

import sqlite3
import statistics
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

COMMITS, ROUNDS = 200, 7


def commit_ms(folder: Path, synchronous: str) -> float:
    with closing(sqlite3.connect(folder / "bench.sqlite3", isolation_level=None)) as database:
        database.execute("PRAGMA journal_mode=WAL")
        database.execute(f"PRAGMA synchronous={synchronous}")
        database.execute("CREATE TABLE IF NOT EXISTS row (body TEXT)")
        started = time.perf_counter()
        for _ in range(COMMITS):
            database.execute("BEGIN IMMEDIATE")
            database.execute("INSERT INTO row VALUES (?)", ["x" * 500])
            database.execute("COMMIT")
        return (time.perf_counter() - started) / COMMITS * 1000


def main() -> None:
    parent = sys.argv[1] if len(sys.argv) > 1 else None
    with tempfile.TemporaryDirectory(dir=parent) as folder:
        rounds = [
            [commit_ms(Path(folder), kind) for kind in ("NORMAL", "FULL")] for _ in range(ROUNDS)
        ]
    normal, full = map(statistics.median, zip(*rounds, strict=True))
    print(f"a commit: NORMAL {normal:.2f} ms, FULL {full:.2f} ms, ratio {full / normal:.1f}")


if __name__ == "__main__":
    main()
