"""evaluate.py LIMITS.xml ARCHIVE_FOLDER OUT.csv

The outside evaluator: judges an archive by a limits file and writes rows in results.csv's columns.
Written from the design alone, in another language and by another route than the program, so that a
mistake is not made twice. Slow and plain on purpose. Not here: bias-current, phase, attempts."""
import bisect
import csv
import math
import re
import sys
import xml.etree.ElementTree as ET
from collections import Counter
from decimal import Decimal

sys.dont_write_bytecode = True
import sweeps  # noqa: E402

NAMESPACE = "{urn:gainsieve:limits:1}"
SCALES = {"": 1, "dB": 1, "dB/V": 1, "ohm": 1, "ns": 1, "us": 10**3, "ps": Decimal("0.001"),
          "V": 1, "mV": Decimal("0.001"), "Hz": 1, "kHz": 10**3, "MHz": 10**6, "GHz": 10**9}
COLUMNS = ["serial", "attempt", "limit", "quantity", "outcome", "accepted", "value", "bound",
           "margin", "unit", "frequency_hz", "bias_v", "uncertainty", "conformance_probability",
           "reason"]
UNITS = {"input-resistance": "ohm", "input-reactance": "ohm", "gain-slope": "dB/V",
         "reflection-shift": "1", "group-delay": "ns", "stability": "1"}
REFLECTIONS = {"input-reflection": "s11", "output-reflection": "s22"}
NEEDS = {"input-reflection": ["s11"], "output-reflection": ["s22"], "reverse-isolation": ["s12"],
         "input-resistance": ["s11"], "input-reactance": ["s11"], "reflection-shift": ["s11"],
         "stability": list(sweeps.PARAMETERS)}
LOWER, UPPER = 0, 1


# --- the limits file ---

def value_unit(text):
    number, unit = re.fullmatch(r"\s*([-+0-9.eE]+?)\s*([A-Za-z/]*)\s*", text).groups()
    return float(Decimal(number) * SCALES[unit]), unit


def quantity_value(text):
    return value_unit(text)[0]


class Line:
    """A bound over frequency: straight between its points [(Hz, value)]."""

    def __init__(self, points):
        self.points = points

    def first(self):
        return self.points[0][0]

    def last(self):
        return self.points[-1][0]

    def holds(self, f):
        return self.first() * (1 - sweeps.SLACK) <= f <= self.last() * (1 + sweeps.SLACK)

    def at(self, f):
        if f <= self.first():
            return self.points[0][1]
        for (fa, a), (fb, b) in zip(self.points, self.points[1:]):
            if f <= fb:
                return a + (b - a) * (f - fa) / (fb - fa)
        return self.points[-1][1]

    def clipped(self, low, high):
        low, high = max(low, self.first()), min(high, self.last())
        if low > high:
            raise ValueError("a mask that lies outside its band")
        inside = [p for p in self.points if low < p[0] < high]
        ends = [(low, self.at(low))] if low == high else [(low, self.at(low)), (high, self.at(high))]
        return Line(ends[:1] + inside + ends[1:])


class Limit:
    """One limit: `lines` {LOWER or UPPER: Line}, `marks` the band edges and mask corners."""


class Limits:
    """steps [(id, volts)] in rising volts, tolerance_v, z0, simple (rule), factor, limits."""


def read_line(element, name):
    mask = element.find(NAMESPACE + name)
    if mask is None:
        return None
    return Line([(quantity_value(p.get("at")), quantity_value(p.get("value"))) for p in mask])


def read_bounds(limit, element, bands):
    band = bands.get(element.get("band"))
    limit.max_step = 0.0
    if band is not None:
        limit.max_step = quantity_value(band.get("max-step", "0 Hz"))
        low = quantity_value(band.get("at") or band.get("from"))
        high = quantity_value(band.get("at") or band.get("to"))
        limit.marks = [low, high]
    else:
        limit.max_step = quantity_value(element.get("max-step", "0 Hz"))
        limit.marks = []
    limit.lines = {}
    for side, flat, mask in ((LOWER, "min", "lower"), (UPPER, "max", "upper")):
        line = read_line(element, mask)
        if line and band is not None:
            line = line.clipped(low, high)
        if element.get(flat):
            bound = quantity_value(element.get(flat))
            line = Line([(low, bound)] if low == high else [(low, bound), (high, bound)])
        if line:
            limit.lines[side] = line
            limit.marks = limit.marks + [f for f, _ in line.points]


def read_limit(element, limits, bands):
    limit = Limit()
    index = {name: i for i, (name, _) in enumerate(limits.steps)}
    limit.id, limit.quantity = element.get("id"), element.tag.removeprefix(NAMESPACE)
    names = element.get("bias", "all").split()
    limit.biases = sorted(index[n] for n in names) if names != ["all"] else sorted(index.values())
    limit.start = index[element.get("from", limits.steps[0][0])]
    limit.end = index[element.get("to", limits.steps[-1][0])]
    limit.reference = index.get(element.get("reference"))
    limit.fit = element.get("method", "local") == "fit"
    limit.uncertainty, limit.linear = None, False
    if element.get("uncertainty"):
        limit.uncertainty, unit = value_unit(element.get("uncertainty"))
        limit.linear = limit.quantity in REFLECTIONS and unit == ""
    read_bounds(limit, element, bands)
    return limit


def read_limits(path):
    root = ET.parse(path).getroot()
    limits = Limits()
    limits.z0 = quantity_value(root.get("impedance"))
    steps = root.find(NAMESPACE + "bias-steps")
    limits.tolerance_v = quantity_value(steps.get("tolerance"))
    limits.steps = sorted(((b.get("id"), quantity_value(b.get("at"))) for b in steps),
                          key=lambda step: step[1])
    bands = {b.get("id"): b for b in root.findall(f"{NAMESPACE}bands/{NAMESPACE}band")}
    decision = root.find(NAMESPACE + "decision")
    limits.simple = decision is not None and decision.get("rule") == "simple-acceptance"
    limits.factor = float(decision.get("guard-factor", "1")) if decision is not None else 1.0
    limits.limits = [read_limit(e, limits, bands) for e in root if e.get("id")]
    return limits


# --- coverage and places ---

def same(a, b):
    return abs(a - b) <= sweeps.SLACK * max(a, b)


def too_wide(sweep, k, max_step):
    """Whether the gap behind point k is wider than allowed."""
    low, high = sweep.f[k], sweep.f[k + 1]
    return max_step > 0 and high - low > max_step + sweeps.SLACK * high


def covers(sweep, limit):
    """Whether the sweep reaches the ends of every line with no gap in it that is too wide."""
    for line in limit.lines.values():
        low, high = line.first(), line.last()
        if sweep.f[0] > low * (1 + sweeps.SLACK) or sweep.f[-1] < high * (1 - sweeps.SLACK):
            return False
        for k in range(len(sweep.f) - 1):
            # A gap that only touches the range has no part in it.
            overlaps = (sweep.f[k] < high * (1 - sweeps.SLACK)
                        and sweep.f[k + 1] > low * (1 + sweeps.SLACK))
            if overlaps and too_wide(sweep, k, limit.max_step):
                return False
    return True


def locate(sweep, f, max_step):
    """(k, share): a place between points k and k+1, share 0 at a measured point; None where the
    sweep says nothing that can be trusted."""
    after = bisect.bisect_left(sweep.f, f)
    for k in (after - 1, after):
        if 0 <= k < len(sweep.f) and same(sweep.f[k], f):
            return k, 0.0
    k = after - 1
    if k < 0 or after == len(sweep.f) or too_wide(sweep, k, max_step):
        return None
    return k, (f - sweep.f[k]) / (sweep.f[after] - sweep.f[k])


def sample(sweep, name, place):
    k, share = place
    trace = sweep.s[name]
    return trace[k] if share == 0 else trace[k] + (trace[k + 1] - trace[k]) * share


def sample_frequencies(limit, group):
    """Where a limit is judged: its marks and the measured points of any sweep of the group."""
    wanted = []
    for f in sorted(set(limit.marks).union(*(sweep.f for sweep in group))):
        if wanted and same(f, wanted[-1]):
            continue
        if any(line.holds(f) for line in limit.lines.values()):
            wanted.append(f)
    return wanted


# --- quantities ---

def decibels(s):
    return 20 * math.log10(abs(s)) if abs(s) > 0 else -400.0


def gain(sweep, place):
    return decibels(sample(sweep, "s21", place))


def impedance(sweep, place):
    s = sample(sweep, "s11", place)
    return complex(math.inf, math.inf) if s == 1 else sweep.z0 * (1 + s) / (1 - s)


def stability(sweep, place):
    """Edwards and Sinsky's mu."""
    s11, s21, s12, s22 = (sample(sweep, name, place) for name in sweeps.PARAMETERS)
    delta = s11 * s22 - s12 * s21
    below = abs(s22 - delta * s11.conjugate()) + abs(s12 * s21)
    return (1 - abs(s11) ** 2) / below if below else math.inf


def turn(sweep, k):
    """Change of the angle of S21 from point k to the next, in degrees, the short way round."""
    a, b = (math.degrees(math.atan2(s.imag, s.real)) for s in sweep.s["s21"][k:k + 2])
    return (b - a + 180) % 360 - 180


def group_delay(sweep, place):
    k, share = place
    n = len(sweep.f)
    if n < 2:
        return math.nan
    first, last = (k, k + 1) if share else (max(k - 1, 0), min(k + 1, n - 1))
    degrees = sum(turn(sweep, i) for i in range(first, last))
    return -degrees / 360 / (sweep.f[last] - sweep.f[first]) * 1e9


FORMULAS = {
    "gain": gain, "gain-flatness": gain, "stability": stability, "group-delay": group_delay,
    "input-reflection": lambda sweep, place: decibels(sample(sweep, "s11", place)),
    "output-reflection": lambda sweep, place: decibels(sample(sweep, "s22", place)),
    "reverse-isolation": lambda sweep, place: decibels(sample(sweep, "s12", place)),
    "input-resistance": lambda sweep, place: impedance(sweep, place).real,
    "input-reactance": lambda sweep, place: impedance(sweep, place).imag,
}


def least_squares_slope(x, y):
    mx, my = sum(x) / len(x), sum(y) / len(y)
    return (sum((a - mx) * (b - my) for a, b in zip(x, y)) / sum((a - mx) ** 2 for a in x))


# --- values of one unit: [(bias_v, frequency_hz, value, abs(S) or None)], and whether all are there

def groups_of(limit):
    """The sets of bias steps whose sweeps give a value together."""
    if limit.quantity == "gain-slope":
        low, high = sorted((limit.start, limit.end))
        if limit.fit:
            return [list(range(low, high + 1))]
        return [[i, i + 1] for i in range(low, high)]
    if limit.quantity == "gain-range":
        return [[limit.start, limit.end]]
    if limit.quantity == "reflection-shift":
        return [[i, limit.reference] for i in limit.biases if i != limit.reference]
    return [[i] for i in limit.biases]


def value_of(limit, volts, group, places):
    if limit.quantity == "gain-slope":
        return least_squares_slope(volts, [gain(s, p) for s, p in zip(group, places)])
    if limit.quantity == "gain-range":
        return gain(group[1], places[1]) - gain(group[0], places[0])
    if limit.quantity == "reflection-shift":
        return abs(sample(group[0], "s11", places[0]) - sample(group[1], "s11", places[1]))
    return FORMULAS[limit.quantity](group[0], places[0])


def bias_of(limit, volts):
    if limit.quantity == "gain-slope":
        return (volts[0] + volts[-1]) / 2
    return volts[1] if limit.quantity == "gain-range" else volts[0]


def values_of_group(limit, volts, group):
    """As [(frequency_hz, value, abs(S))], and whether the group covers the limit."""
    complete = all(covers(sweep, limit) for sweep in group)
    values = []
    for f in sample_frequencies(limit, group):
        places = [locate(sweep, f, limit.max_step) for sweep in group]
        if None in places:
            continue
        value = value_of(limit, volts, group, places)
        if not math.isfinite(value):
            complete = False
            continue
        magnitude = None
        if limit.quantity in REFLECTIONS:
            magnitude = abs(sample(group[0], REFLECTIONS[limit.quantity], places[0]))
        values.append((f, value, magnitude))
    return values, complete


def flatness(gains):
    """One value a bias step, at the lowest gain, the first one when tied."""
    if not gains:
        return []
    lowest = min(gains, key=lambda g: (g[1], g[0]))
    return [(lowest[0], max(g[1] for g in gains) - lowest[1], None)]


def values_of_unit(limit, unit):
    values, complete = [], True
    for steps in groups_of(limit):
        found = [unit.get(i, (0.0, None)) for i in steps]
        needed = NEEDS.get(limit.quantity, ["s21"])
        if any(sweep is None or any(n not in sweep.s for n in needed) for _, sweep in found):
            complete = False
            continue
        volts, group = [v for v, _ in found], [sweep for _, sweep in found]
        part, whole = values_of_group(limit, volts, group)
        if limit.quantity == "gain-flatness":
            part = flatness(part)
        values += [(bias_of(limit, volts), *v) for v in part]
        complete = complete and whole
    return values, complete


# --- the decision ---

def linear_bound(bound):
    return 10 ** (bound / 20)


def worst_place(limit, values):
    """(decision margin, bias, frequency, side, value, abs(S), bound) where it is smallest; None
    without any value."""
    candidates = []
    for bias, f, value, magnitude in values:
        for side, line in limit.lines.items():
            if not line.holds(f):
                continue
            bound = line.at(f)
            above = linear_bound(bound) - magnitude if limit.linear else bound - value
            margin = above if side == UPPER else -above
            candidates.append((margin, bias, f, side, value, magnitude, bound))
    return min(candidates, key=lambda c: c[:4], default=None)


def outcome_of(margin, guard):
    if margin >= guard:
        return "pass"
    if margin >= 0:
        return "conditional-pass"
    return "conditional-fail" if margin > -guard else "fail"


def normal_cdf(x):
    return math.erfc(-x / math.sqrt(2)) / 2


def probability(limit, worst):
    """JCGM 106: the share of the normal distribution about the value that lies in the bounds."""
    if limit.uncertainty is None:
        return None
    margin, _, f, _, value, magnitude, _ = worst
    if limit.uncertainty == 0:
        return 1.0 if margin >= 0 else 0.0
    at, u = magnitude if limit.linear else value, limit.uncertainty / 2
    share = {LOWER: 0.0, UPPER: 1.0}
    for side, line in limit.lines.items():
        if line.holds(f):
            bound = linear_bound(line.at(f)) if limit.linear else line.at(f)
            share[side] = normal_cdf((bound - at) / u)
    return share[UPPER] - share[LOWER]


def judge(limits, limit, unit):
    """One row as {column: value}; numbers that do not apply are absent."""
    values, complete = values_of_unit(limit, unit)
    worst = worst_place(limit, values)
    row = {"limit": limit.id, "quantity": limit.quantity, "outcome": "incomplete",
           "accepted": "no", "unit": UNITS.get(limit.quantity, "dB"),
           "uncertainty": limit.uncertainty}
    if worst is None:
        return row
    outcome = outcome_of(worst[0], limits.factor * (limit.uncertainty or 0.0))
    accepted = outcome == "pass" or (limits.simple and outcome == "conditional-pass")
    if accepted and not complete:
        return row
    _, bias, f, side, value, _, bound = worst
    row.update(outcome=outcome, accepted="yes" if accepted else "no", value=value, bound=bound,
               margin=bound - value if side == UPPER else value - bound, frequency_hz=f,
               bias_v=bias, conformance_probability=probability(limit, worst))
    return row


def judge_archive(limits, units):
    rows = []
    for serial in sorted(units):
        for limit in limits.limits:
            rows.append(dict(judge(limits, limit, units[serial]), serial=serial, attempt=1))
    return rows


def main(limits_path, folder, out_path):
    limits = read_limits(limits_path)
    units = sweeps.read_archive(folder, limits.steps, limits.tolerance_v, limits.z0)
    rows = judge_archive(limits, units)
    with open(out_path, "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, COLUMNS, restval="", lineterminator="\r\n")
        writer.writeheader()
        for row in rows:
            writer.writerow({k: repr(v) if isinstance(v, float) else v for k, v in row.items()})
    counts = Counter(row["outcome"] for row in rows)
    print(f"{len(rows)} rows:", ", ".join(f"{n} {counts[n]}" for n in sorted(counts)))


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit(__doc__.splitlines()[0])
    main(*sys.argv[1:])
