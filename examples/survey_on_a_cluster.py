"""A survey whose files are looked at by other processes, or by other machines: with Dask.

    python -m pip install "rtcsave" distributed
    python examples/survey_on_a_cluster.py FOLDER                  (two workers on this machine)
    python examples/survey_on_a_cluster.py FOLDER --scheduler tcp://10.0.0.1:8786

The workers read the files themselves: the folder must be there under the same path for each of them (a
network disk). Only paths go out, in chunks, and rows come back.
"""

from __future__ import annotations

import argparse
import sys
from typing import Any

import rtcsave


def main() -> int:
    """Survey a folder, and print what needs a person."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("folder")
    parser.add_argument("--scheduler", help="the address of a cluster; none: two workers here")
    args = parser.parse_args()
    try:
        from distributed import (  # pyright: ignore[reportMissingImports]  # not ours
            Client,
            LocalCluster,
        )
    except ImportError:
        sys.exit("survey_on_a_cluster: install it first: python -m pip install distributed")
    here: Any = None
    if args.scheduler is None:
        here = LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None)
    with Client(args.scheduler or here) as client:
        # pure=False: a file may be another one the next time, so no remembered result is handed back
        executor = client.get_executor(pure=False)
        seen = shown = 0
        for row in rtcsave.survey(args.folder, executor=executor, chunk=100, ordered=True):
            seen += 1
            if row.worst in ("warning", "error"):
                shown += 1
                print(row.path, row.worst, ", ".join(f.code for f in row.findings) or row.error)
    if here is not None:
        here.close()
    print(f"{seen} files, {shown} need a person")
    return 0 if seen else 1


if __name__ == "__main__":
    sys.exit(main())
