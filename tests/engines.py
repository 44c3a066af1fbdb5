"""Reads a book and its export with DuckDB and Polars, each with one glob, and holds them to each other."""

import json
import subprocess
import sys

import duckdb
import polars as pl


def main():
    program, book, tables = sys.argv[1:]

    def heatbook(*call):
        done = subprocess.run([program, "--book", book, "--json", *call], check=True, capture_output=True)
        return json.loads(done.stdout)

    expected = {
        s["id"]: (s["peak_coolant_c"], s["duration_s"]) for s in heatbook("sessions")["sessions"]
    }
    assert len(expected) == 8, expected
    heatbook("export", tables)
    own, exported = f"{book}/channels/*/part-0.parquet", f"{tables}/channels/*/part-0.parquet"
    for name, sql in (
        ("the book", f"read_parquet('{own}', hive_partitioning = true, union_by_name = true)"),
        ("the export", f"read_parquet('{exported}', hive_partitioning = true)"),
    ):
        rows = duckdb.sql(f"select session, max(coolant), max(t_s) from {sql} group by session").fetchall()
        check(f"DuckDB, {name}", {s: (peak, end) for s, peak, end in rows}, expected)
    lazy = pl.scan_parquet(exported, hive_partitioning=True)
    frame = lazy.group_by("session").agg(pl.col("coolant").max(), pl.col("t_s").max()).collect()
    check("Polars, the export", {s: (peak, end) for s, peak, end in frame.rows()}, expected)
    told = pl.read_parquet(f"{tables}/sessions.parquet")
    joined = lazy.collect().join(told, on="session")
    assert joined.height == lazy.select(pl.len()).collect().item(), "a session is not in the table"
    table = duckdb.sql(f"select count(*) from '{tables}/sessions.parquet'").fetchall()
    assert table == [(8,)], table
    print("DuckDB and Polars read all sessions")


def check(what, found, expected):
    assert found.keys() == expected.keys(), (what, found.keys())
    for session, (peak_c, duration_s) in expected.items():
        assert abs(found[session][0] - peak_c) < 1e-9, (what, session)
        assert abs(found[session][1] - duration_s) < 1e-6, (what, session)


main()
