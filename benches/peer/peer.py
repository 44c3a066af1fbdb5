"""Fits the record that heatbook fits, with numba and scipy, and compares answers and times.

    peer.py FILE ROUNDS COMMAND...

COMMAND FILE makes heatbook write record, answer and times into FILE. It is run before each round
of the peer, so that both feel the same load of the machine.
"""

import json
import subprocess
import sys
from statistics import median
from time import perf_counter

import numpy as np
from scipy.optimize import minimize

from likelihood import cost_and_slope, log_likelihood

FITS, WALKS = 7, 50
# By trial about the loosest that still reach the maximum within a tenth of a standard deviation.
METHODS = {
    "L-BFGS-B": {"ftol": 1e-6, "gtol": 1e-1, "maxcor": 20},
    "BFGS": {"gtol": 2e-1},
}


class Record:
    def __init__(self, told):
        rows = [
            row[:6] + (row[6] if row[6] is not None else [np.nan, np.nan]) for row in told["steps"]
        ]
        steps = np.array(rows, dtype=float)
        car = np.array([told[k] for k in ("coolant_j_per_k", "metal_j_per_k", "opens_c", "span_k")])
        read = steps[~np.isnan(steps[:, 6])]
        start_c = 0.5 * (read[0, 6] + read[0, 7])
        self.record = (told["step_s"], car, steps, start_c)
        self.centres, self.sds = np.array(told["priors"]).T.copy()
        self.start = np.array(told["start"])

    def log_likelihood(self, parameters):
        return log_likelihood(np.array(parameters), *self.record)

    def fit(self, method):
        """In units of the priors' standard deviations, where the conductance's is cut to 0.1."""
        unit = np.minimum(self.sds, [0.1] + [np.inf] * (len(self.sds) - 1))

        def cost(z):
            at = self.start + unit * z
            value, slope = cost_and_slope(at, self.centres, self.sds, *self.record)
            return value, slope * unit

        end = minimize(
            cost, np.zeros_like(self.start), jac=True, method=method, options=METHODS[method]
        )
        return self.start + unit * end.x, end.fun, end.nfev * (len(unit) + 1)


def times_s(count, job):
    times = []
    for _ in range(count):
        start = perf_counter()
        job()
        times.append(perf_counter() - start)
    return times


def main():
    file, rounds, command = sys.argv[1], int(sys.argv[2]), sys.argv[3:]
    ours = {"fit_s": [], "walk_s": []}
    peer = {name: [] for name in [*METHODS, "walk"]}
    for _ in range(rounds):
        subprocess.run([*command, file], check=True, stdout=subprocess.DEVNULL)
        with open(file, encoding="utf-8") as written:
            told = json.load(written)
        record = Record(told)
        for method in METHODS:
            record.fit(method)  # Compiles on the first round.
        for key, times in ours.items():
            times += told[key]
        for method in METHODS:
            peer[method] += times_s(FITS, lambda: record.fit(method))
        peer["walk"] += times_s(WALKS, lambda: record.log_likelihood(record.start))
    return report(told, record, ours, peer)


def report(told, record, ours, peer):
    apart = max(abs(record.log_likelihood(at) - value) for at, value in told["likelihoods"])
    print(
        f"log-likelihood at {len(told['likelihoods'])} points: largest difference {apart:.1e}"
        f" (at the maximum it is {told['maximum']['log_likelihood']:.3f})"
    )
    fit_s, walk_s = median(ours["fit_s"]), median(ours["walk_s"])
    print(f"heatbook: fit {1e3 * fit_s:.1f} ms in {told['walks']} walks, walk {1e3 * walk_s:.3f} ms")
    good = []
    for method in METHODS:
        at, cost, walks = record.fit(method)
        sd = np.array(told["maximum"]["sd"])
        off = np.max(np.abs(at - told["maximum"]["parameters"]) / sd)
        ours_cost, _ = cost_and_slope(
            np.array(told["maximum"]["parameters"]), record.centres, record.sds, *record.record
        )
        time_s = median(peer[method])
        print(
            f"peer, {method}: fit {1e3 * time_s:.1f} ms in {walks} walks; maximum {off:.3f} sd from"
            f" heatbook's, log-posterior {ours_cost - cost:+.4f}; ratio {time_s / fit_s:.2f}"
        )
        if off < 0.1:
            good.append(time_s)
    peer_walk_s = median(peer["walk"])
    print(f"peer: walk {1e3 * peer_walk_s:.3f} ms; ratio {peer_walk_s / walk_s:.2f}")
    if apart > 1e-6 or not good or not told["maximum"]["converged"]:
        print("the answers differ: the times compare nothing")
        return 1
    print(f"ratio of medians, quicker peer over heatbook: {min(good) / fit_s:.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
