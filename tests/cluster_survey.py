"""A survey on a cluster of two workers gives the rows of the plain run, also where a worker is killed.

python -m pip install -e . distributed && python tests/cluster_survey.py [--files 2000]
"""

from __future__ import annotations

import argparse
import os
import pathlib
import signal
import sys
import tempfile
import time

from collections_made import collection

from rtcsave import survey
from rtcsave.strategies import NOW


def main() -> int:
    """Compare, kill a worker, compare again."""
    from distributed import Client, LocalCluster  # installed only where this is run

    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--files", type=int, default=2_000)
    args = parser.parse_args()
    problems = []
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        collection(folder, args.files, seed=21)
        start = time.perf_counter()
        plain = list(survey(folder, now=NOW, ordered=True))
        plain_s = time.perf_counter() - start
        with (
            LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
            Client(cluster) as client,
        ):
            executor = client.get_executor(pure=False)
            start = time.perf_counter()
            rows = list(survey(folder, now=NOW, ordered=True, executor=executor, chunk=100))
            spread_s = time.perf_counter() - start
            if rows != plain:
                problems.append("the cluster's rows are others than those of the plain run")
            rows = []
            for row in survey(folder, now=NOW, ordered=True, executor=executor, chunk=20):
                rows.append(row)
                if len(rows) == args.files // 4:
                    pid = next(iter(client.run(os.getpid).values()))
                    os.kill(pid, signal.SIGKILL)
            if rows != plain:
                problems.append("rows are others where a worker was killed")
    print(
        f"{len(plain)} rows: plain {plain_s:.2f} s, cluster {spread_s:.2f} s; {len(problems)} problems"
    )
    print(*problems, sep="\n")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
