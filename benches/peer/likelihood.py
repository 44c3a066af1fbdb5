"""The likelihood of src/estimate/thermal_state.rs, written again for numba.

Formula, symbols and assumptions stand there and in src/stats/kalman.rs. Loops over small arrays
made once a walk: numba compiles them to machine code without calls into a matrix library.
"""

import math

import numpy as np
from numba import njit

METAL_LAG_S, SENSOR_LAG_S = 7.0, 5.0
PART_OPEN_LOG_SD = 0.3
UNTRUSTED_LOG_SD, UNTRUSTED_HEAT = 0.5, 30e3
HEAT_NOISE = 400.0
READING_VARIANCE = 0.01
FIRST_SD = (5.0, 3.0, 1.0, 15.0, 0.5, 1e-6)
METAL, COOLANT, SENSOR, BLOCK, WANDER, TALLY = range(6)
TAU = 2.0 * math.pi

compiled = njit(cache=False, error_model="numpy")


@compiled
def cut(a, b):
    """Log probability, mean and variance of a standard normal variable between a < b."""
    mirrored = a + b < 0.0
    if mirrored:
        a, b = -b, -a
    probability = 0.5 * (math.erfc(a * math.sqrt(0.5)) - math.erfc(b * math.sqrt(0.5)))
    if probability < 1e-280:
        log = -0.5 * a * a - math.log(a * math.sqrt(TAU))
        mean, variance = a + 1.0 / a, 1.0 / (a * a)
    else:
        low = math.exp(-0.5 * a * a) / math.sqrt(TAU)
        high = math.exp(-0.5 * b * b) / math.sqrt(TAU)
        log = math.log(probability)
        mean = (low - high) / probability
        variance = 1.0 + (a * low - b * high) / probability - mean * mean
        variance = min(max(variance, 0.0), 1.0)
    return log, (-mean if mirrored else mean), variance


@compiled
def bend(x):
    return x if x > 0.6 else 0.03 * math.log1p(math.exp(x / 0.03))


@compiled
def opening_of(wax_c, opens_c, span_k):
    x = (wax_c - opens_c) / span_k
    return 0.02 + 0.98 * (bend(x) - bend(x - 1.0))


@compiled
def multiply(a, b, out):
    for i in range(4):
        for j in range(4):
            total = 0.0
            for k in range(4):
                total += a[i, k] * b[k, j]
            out[i, j] = total


@compiled
def largest(a):
    most = 0.0
    for i in range(4):
        for j in range(4):
            most = max(most, abs(a[i, j]))
    return most


@compiled
def exact(a, h, transition, hold, term, work):
    """Transition and hold of a step by the power series over a part of it, doubled up."""
    norm = 0.0
    for i in range(4):
        row, column = 0.0, 0.0
        for j in range(4):
            row += abs(a[i, j])
            column += abs(a[j, i])
        norm = max(norm, row, column)
    norm *= h
    halvings = int(math.ceil(math.log2(norm / 0.25))) if norm > 0.25 else 0
    part = h / 2.0**halvings
    for i in range(4):
        for j in range(4):
            hold[i, j] = part if i == j else 0.0
            term[i, j] = hold[i, j]
    for k in range(2, 13):
        multiply(a, term, work)
        for i in range(4):
            for j in range(4):
                term[i, j] = work[i, j] * (part / k)
                hold[i, j] += term[i, j]
        if largest(term) < 1e-15 * largest(hold):
            break
    multiply(a, hold, transition)
    for i in range(4):
        transition[i, i] += 1.0
    for _ in range(halvings):
        multiply(transition, hold, work)
        for i in range(4):
            for j in range(4):
                hold[i, j] += work[i, j]
        multiply(transition, transition, work)
        for i in range(4):
            for j in range(4):
                transition[i, j] = work[i, j]


@compiled
def log_likelihood(p, step_s, car, steps, start_c):
    """Sum over the readings. car: capacities of coolant and metal, opening temperature, span.
    steps: heat, flow, air, wax, trusted, open, lower and upper border (NaN: no reading)."""
    coolant, sheet, span_k = car[0], car[0] + car[1], car[3]
    opens_c = car[2] - p[5]
    g, lag, wander_sd_fitted, tau = math.exp(p[0]), math.exp(p[2]), math.exp(p[3]), math.exp(p[4])
    metal = max(sheet * math.exp(p[1]) - coolant, 0.3 * coolant)
    to_coolant = metal / (METAL_LAG_S * lag)
    per_block = 1.0 / math.exp(p[7])
    to_block = sheet * math.exp(p[6]) * per_block
    keep = math.exp(-step_s / tau)

    drift = np.zeros((4, 4))
    drift[METAL, METAL] = -(to_coolant + to_block) / metal
    drift[METAL, COOLANT] = to_coolant / metal
    drift[METAL, BLOCK] = to_block / metal
    drift[COOLANT, METAL] = to_coolant / coolant
    drift[BLOCK, METAL] = per_block
    drift[BLOCK, BLOCK] = -per_block
    drift[SENSOR, COOLANT] = 1.0 / (SENSOR_LAG_S * lag)
    drift[SENSOR, SENSOR] = -drift[SENSOR, COOLANT]

    small, hold, term, work = np.zeros((4, 4)), np.zeros((4, 4)), np.zeros((4, 4)), np.zeros((4, 4))
    full, product, spread = np.zeros((6, 6)), np.zeros((6, 6)), np.zeros((6, 6))
    mean, moved, gain = np.zeros(6), np.zeros(6), np.zeros(6)
    for i in range(6):
        mean[i] = start_c if i < 4 else 0.0
        spread[i, i] = FIRST_SD[i] ** 2
    full[TALLY, TALLY] = 1.0
    full[WANDER, WANDER] = keep

    total = 0.0
    for t in range(steps.shape[0]):
        low, high = steps[t, 6], steps[t, 7]
        if not math.isnan(low):
            for i in range(6):
                gain[i] = spread[i, SENSOR]
            variance = gain[SENSOR] + READING_VARIANCE
            sd = math.sqrt(variance)
            if low == high:
                z, left = (low - mean[SENSOR]) / sd, 0.0
                total -= 0.5 * (z * z + math.log(TAU * variance))
            else:
                log, z, left = cut((low - mean[SENSOR]) / sd, (high - mean[SENSOR]) / sd)
                total += log
            factor = (1.0 - left) / variance
            for i in range(6):
                mean[i] += gain[i] * (z / sd)
                for j in range(6):
                    spread[i, j] -= gain[i] * gain[j] * factor

        heat_w, flow, air_c, wax_c = steps[t, 0], steps[t, 1], steps[t, 2], steps[t, 3]
        opening = opening_of(wax_c, opens_c, span_k)
        wander = mean[WANDER]
        rate = opening * g * flow * math.exp(wander) / coolant
        excess_k = mean[COOLANT] - air_c
        drift[COOLANT, COOLANT] = -to_coolant / coolant - rate
        exact(drift, step_s, small, hold, term, work)
        into_metal, into_coolant = heat_w / metal, rate * (air_c + excess_k * wander)
        for i in range(4):
            for j in range(4):
                full[i, j] = small[i, j]
            full[i, WANDER] = -rate * excess_k * hold[i, COOLANT]
        full[TALLY, WANDER] = (1.0 - keep) * tau if steps[t, 5] != 0.0 else 0.0
        if steps[t, 4] != 0.0:
            doubt, heat_noise = PART_OPEN_LOG_SD * (1.0 - opening), HEAT_NOISE
        else:
            doubt, heat_noise = UNTRUSTED_LOG_SD, UNTRUSTED_HEAT

        for i in range(6):
            value = 0.0
            for j in range(6):
                value += full[i, j] * mean[j]
            if i < 4:
                value += hold[i, METAL] * into_metal + hold[i, COOLANT] * into_coolant
            moved[i] = value
        for i in range(6):
            mean[i] = moved[i]
        for i in range(6):
            for j in range(6):
                value = 0.0
                for k in range(6):
                    value += full[i, k] * spread[k, j]
                product[i, j] = value
        for i in range(6):
            for j in range(6):
                value = 0.0
                for k in range(6):
                    value += product[i, k] * full[j, k]
                spread[i, j] = value
        wander_variance = wander_sd_fitted * wander_sd_fitted + doubt * doubt
        spread[WANDER, WANDER] += wander_variance * (1.0 - keep * keep)
        spread[METAL, METAL] += (heat_noise / metal) ** 2 * step_s
    return total


@compiled
def cost_and_slope(p, centres, sds, step_s, car, steps, start_c):
    """Negative logarithm of the posterior and its slope by forward differences."""
    count = p.shape[0]
    at = log_likelihood(p, step_s, car, steps, start_c)
    cost, slope = -at, np.zeros(count)
    for i in range(count):
        cost += 0.5 * ((p[i] - centres[i]) / sds[i]) ** 2
        step = 1e-4 * min(sds[i], 1.0)
        beside = p.copy()
        beside[i] += step
        other = log_likelihood(beside, step_s, car, steps, start_c)
        slope[i] = (p[i] - centres[i]) / sds[i] ** 2 - (other - at) / step
    return cost, slope
