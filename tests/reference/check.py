"""Holds `trimwatch measure` against the exact truth of generated takes and against the independent pipeline.

    python check.py BINARY [--only PATTERN] [--jobs N] [--music FOLDER]
    python check.py --self-check                   the pipeline in place of the program
    python check.py --list

A comparison is passed when the program's number lies within the bar of the truth and, where the pipeline measures
that quantity too, within the bar of the pipeline's number.
"""

import argparse
import multiprocessing
import re
import sys
import tempfile
import time
import traceback
from pathlib import Path

from bench import Bench, Row
from cases import CASES
import mechanism  # noqa: F401  (its cases register themselves)


def run_case(job):
    name, folder, binary, music = job
    bench = Bench(name, folder, binary, music)
    try:
        CASES[name](bench)
    except Exception:  # one broken case must not hide the others
        what = traceback.format_exc(limit=-2).strip().replace("\n", " | ")
        bench.rows.append(Row(name, "the check itself", "-", "-", what, "-", False))
    return bench.rows


def print_row(row):
    verdict = {True: "pass", False: "FAIL", None: "-"}[row.good]
    cells = (row.case, row.quantity, row.truth, row.pipeline, row.trimwatch, row.bar, verdict)
    widths = (36, 38, 11, 11, 11, 10, 0)
    print(" | ".join(c.ljust(w) for c, w in zip(cells, widths)), flush=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("binary", nargs="?", help="the program to check")
    parser.add_argument("--only", default="", metavar="PATTERN", help="cases whose name this regular expression finds")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--music", type=Path, help="folder with real music (.ogg, .flac)")
    parser.add_argument("--failures", action="store_true", help="print only what failed")
    parser.add_argument("--list", action="store_true", help="names of the cases")
    parser.add_argument("--self-check", action="store_true", help="check the pipeline against the truth")
    options = parser.parse_args()
    names = [name for name in CASES if re.search(options.only, name)]
    if options.list:
        print("\n".join(names))
        return 0
    if not names:
        parser.error(f"no case matches '{options.only}'; --list names them")
    if bool(options.binary) == options.self_check:
        parser.error("give the program to check, or --self-check")
    binary = None if options.self_check else str(Path(options.binary).resolve())
    if binary and not Path(binary).is_file():
        parser.error(f"no such program: {options.binary}")
    found = options.music.rglob("*") if options.music and options.music.is_dir() else ()
    music = sorted(path for path in found if path.suffix in (".ogg", ".flac"))
    passed = failed = skipped = 0
    began = time.monotonic()
    print_row(Row("case", "quantity", "truth", "pipeline", "trimwatch", "bar", None))
    with tempfile.TemporaryDirectory(prefix="takes-") as folder, multiprocessing.Pool(options.jobs, maxtasksperchild=8) as pool:
        for rows in pool.imap(run_case, [(name, folder, binary, music) for name in names]):
            for row in rows:
                passed += row.good is True
                failed += row.good is False
                skipped += row.quantity == "SKIPPED"
                if row.good is False or not options.failures:
                    print_row(row)
    print(f"\n{len(names)} cases in {time.monotonic() - began:.0f} s; {skipped} skipped")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
