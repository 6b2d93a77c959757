"""Print what the work takes beside the least that it could: `python -m tests.benchmarks --entries 10000,100000`.

For each size a made-up ledger of ten years is loaded through the ledger's own seal and checked, on SQLite
and, where DATABASE_URL names a PostgreSQL server on which databases may be made, there too. The columns: the
work, the ledger's entries, our median time, the floor's, their ratio, and the power of the ledger's size that
our time and the floor's grow with (0 is not at all, 1 in proportion). A million entries take some minutes to
load. Plans, papers and delivery files stand on no ledger: 0 entries.
"""

import argparse
import os
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from tests.benchmarks import files, loading, pages, papers, plans, reordering, shopping, works
from tests.benchmarks.figures import Figure, Row, table
from tests.benchmarks.starting import start_up
from tests.faults.real_databases import Maker, RealDatabase, maker

READING = {
    "P2": works.read_stock,
    "P3": works.check_books,
    "P4": works.read_past_stock,
    "P5": pages.show_stock,
    "P7": reordering.reorder,
}
WRITING = {"P1": works.post_sessions}
TOGETHER = "P11"
ALONE = {"P6": plans.plan_large_set, "P7": reordering.reorder_many, "P9": files.import_delivery}
WITHOUT: dict[str, Callable[..., Figure]] = {
    "P8": papers.print_price_list,
    "P10": start_up,
    "P12": shopping.buy_together,
}


def figures(database: RealDatabase, asked: argparse.Namespace) -> Iterator[Figure]:
    """Reads first: what is posted afterwards stands outside the ten years that were loaded."""
    for name, work in (READING | WRITING).items():
        if name in asked.only:
            yield from database.do(work, runs=asked.runs)
    if TOGETHER in asked.only:
        yield from works.write_together(database, requests=asked.runs * 2)


def measure(kind: str, databases: Maker, asked: argparse.Namespace) -> Iterator[Row]:
    """What needs no ledger first, each on an empty database; then load a ledger of each size and measure on it."""
    for name, work in ALONE.items():
        if name in asked.only:
            with databases.fresh() as database:
                for figure in database.do(work, runs=asked.runs, part=asked.part):
                    yield Row(kind, 0, figure)
    on_ledgers = {*READING, *WRITING, TOGETHER}.intersection(asked.only)
    for size in asked.entries if on_ledgers else ():
        with databases.fresh() as database:
            loaded = database.do(loading.load, entries=size, seed=asked.seed)
            told = ", ".join(f"{count:,} {name}" for name, count in loaded.items())
            print(f"{kind}: loaded {told}", flush=True)
            for figure in figures(database, asked):
                yield Row(kind, loaded["entries"], figure)


def main(words: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    names = sorted({*READING, *WRITING, *ALONE, *WITHOUT, TOGETHER}, key=lambda name: int(name[1:]))
    parser.add_argument(
        "--entries", type=_sizes, default=[10_000, 100_000], help="Sizes, with commas between."
    )
    parser.add_argument("--only", type=_names, default=names, help=f"Some of {','.join(names)}.")
    parser.add_argument("--runs", type=int, default=20, help="How often each side is measured.")
    parser.add_argument(
        "--part", type=int, default=1, help="How many times smaller plans, papers and files are made."
    )
    parser.add_argument("--seed", type=int, default=1, help="What the ledger's story is told from.")
    parser.add_argument("--database", choices=["sqlite", "postgresql"], help="Measure on one kind only.")
    asked = parser.parse_args(words)
    rows: list[Row] = []
    for kind, server in (("sqlite", ""), ("postgresql", os.environ.get("DATABASE_URL", ""))):
        wanted = asked.database in (None, kind) and (kind == "sqlite" or server.startswith("postgres"))
        if wanted and not set(asked.only) <= set(WITHOUT):
            with tempfile.TemporaryDirectory() as folder, maker(Path(folder), server) as databases:
                rows += measure(kind, databases, asked)
    for name, without in WITHOUT.items():
        if name in asked.only:
            rows.append(Row("any", 0, without(runs=max(1, asked.runs // 2), part=asked.part)))
    print(table(rows))


def _sizes(text: str) -> list[int]:
    return [int(size) for size in text.split(",")]


def _names(text: str) -> list[str]:
    return text.upper().split(",")


if __name__ == "__main__":
    main()
