"""Times `heatbook import` and Polars (read_csv, write_parquet) on one invented log, in turns."""

import math
import resource
import shutil
import statistics
import subprocess
import sys
import time

ROUNDS = 5
HEADER = (
    "Time [s],Coolant [°C],Speed [km/h],Ambient [°C],Intake [°C],Oil [°C],RPM [1/min],"
    "Throttle [%],MAF [g/s],MAP [kPa],Latitude [°],Longitude [°]\n"
)
POLARS = (
    "import sys, polars as pl; "
    "pl.read_csv(sys.argv[1]).write_parquet(sys.argv[2], compression='zstd')"
)


def write_log(path, size):
    """A log of 50 rows a second, twelve columns, of about `size` bytes."""
    written, i, latitude = 0, 0, 48.0
    with open(path, "w", encoding="utf-8") as log:
        log.write(HEADER)
        while written < size:
            t = i * 0.02
            speed = 110 + 45 * math.sin(t / 14) + 15 * math.sin(t / 5.1)
            latitude += speed / 3.6 * 0.02 / 111_195
            written += log.write(
                f"{t:.3f},{84 + 9 * math.sin(t / 60):.2f},{speed:.2f},{20 + t / 4000:.2f},"
                f"{30 + math.sin(t / 9):.2f},{100 + 9 * math.sin(t / 80):.2f},"
                f"{4000 + 1500 * math.sin(t / 3):.1f},{50 + 40 * math.sin(t / 2):.1f},"
                f"{60 + 40 * math.sin(t / 2.2):.2f},{90 + 60 * math.sin(t / 2.1):.1f},"
                f"{latitude:.7f},8.1000000\n"
            )
            i += 1


def timed(command):
    """Wall and processor seconds of a command."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    started = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    wall = time.perf_counter() - started
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main():
    program, work, megabytes = sys.argv[1], sys.argv[2], float(sys.argv[3])
    log, book = f"{work}/log.csv", f"{work}/book"
    write_log(log, megabytes * 1e6)
    ours, theirs = [], []
    for _ in range(ROUNDS):
        shutil.rmtree(book, ignore_errors=True)
        ours.append(timed([program, "--book", book, "import", log, "--setup", "a"]))
        theirs.append(timed([sys.executable, "-c", POLARS, log, f"{work}/log.parquet"]))
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 2**20
    for name, at in (("wall", 0), ("processor", 1)):
        a = statistics.median(run[at] for run in ours)
        b = statistics.median(run[at] for run in theirs)
        print(f"{name}: import {a:.2f} s, Polars {b:.2f} s, throughput {b / a:.2f} of Polars'")
    print(f"largest process: {peak:.2f} GiB")


main()
