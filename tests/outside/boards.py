"""Random boards for generate.py: smooth S-parameters over frequency and bias, written in every file
shape, with the troubles that archives have."""
import cmath
import math
import os

import sweeps

TROUBLES = ["missing", "short-low", "short-high", "gap", "coarse", "shifted", "random-grid",
            "other-impedance", "one-port", "one-port-other-impedance", "placeholder-zero",
            "placeholder-same", "placeholder-other-impedance", "out-of-tolerance", "open", "open",
            "match", "csv-part", "plateau", "sparse-outside", "lone-spot", "gap"]


def frequency_text(rng, hz):
    """The same frequency in a random unit, digit for digit."""
    name, digits = rng.choice([("Hz", 0), ("kHz", 3), ("MHz", 6), ("GHz", 9)])
    return f"{scaled_text(hz, digits)} {name}"


def scaled_text(hz, digits):
    if digits == 0:
        return str(hz)
    text = f"{hz // 10**digits}.{hz % 10**digits:0{digits}d}"
    return text.rstrip("0").rstrip(".")


class Plan:
    """What all units of a batch share: bias steps, grid, bands, decision, impedance."""

    def __init__(self, rng):
        self.z0 = rng.choice([50, 50, 50, 50, 75])
        self.spacing_hz = rng.choice([250_000, 500_000, 1_000_000, 1_100_000])
        self.n_points = rng.randint(24, 40)
        self.start_hz = rng.choice([160_000_000, 433_100_000, 1_200_000_000])
        self.stop_hz = self.start_hz + self.spacing_hz * (self.n_points - 1)
        names = ["low", "mid", "high", "top", "b5"][:rng.randint(3, 5)]
        at, self.steps = round(rng.uniform(1.2, 2.0), 2), []
        for name in names:
            self.steps.append((name, at))
            at = round(at + rng.uniform(0.3, 0.7), 2)
        self.steps_as_written = list(self.steps)
        if rng.random() < 0.2:
            rng.shuffle(self.steps_as_written)
        self.tolerance_mv = rng.choice([10, 20, 50])
        self.rule = rng.choice(["simple-acceptance", "guarded-acceptance", "guarded-acceptance", None])
        self.factor = rng.choice(["0.5", "1", "1.5", None]) if self.rule else None
        self.make_bands(rng)
        self.tau_s = rng.uniform(2e-9, 60e-9)
        self.base_gain_db = rng.uniform(10, 25)

    def on_grid(self, hz):
        return self.start_hz + round((hz - self.start_hz) / self.spacing_hz) * self.spacing_hz

    def off_grid(self, rng, hz):
        return self.on_grid(hz) + rng.randint(1, self.spacing_hz - 1)

    def make_bands(self, rng):
        span = self.stop_hz - self.start_hz
        a, b = self.start_hz + span // 5, self.stop_hz - span // 5
        self.bands = [("whole", self.start_hz, self.stop_hz), ("on", self.on_grid(a), self.on_grid(b)),
                      ("off", self.off_grid(rng, a), self.off_grid(rng, b)),
                      ("half", self.on_grid(a), self.off_grid(rng, (a + b) // 2)),
                      ("spot", self.on_grid((a + b) // 2), None),
                      ("between", self.off_grid(rng, (a + b) // 2), None)]
        self.bands = [(n, lo, hi or lo) for n, lo, hi in self.bands]
        self.bands_text = []
        for name, low, high in self.bands:
            words = f'at="{frequency_text(rng, low)}"'
            if low != high:
                words = f'from="{frequency_text(rng, low)}" to="{frequency_text(rng, high)}"'
            if rng.random() < 0.6:  # the spacing itself must do, whatever its digits round to
                step = self.spacing_hz * rng.choice([2, 2, 3, 4]) // 2
                words += f' max-step="{frequency_text(rng, step)}"'
            self.bands_text.append(f'    <band id="{name}" {words}/>')


class Board:
    """One unit: smooth functions of frequency and volts, different from unit to unit."""

    def __init__(self, rng, plan):
        self.plan, self.rng = plan, rng
        self.gain_db = plan.base_gain_db + rng.gauss(0, 0.5)
        self.slope = 6 + rng.gauss(0, 0.4)
        self.bend = -1 + rng.gauss(0, 0.2)
        self.tilt = rng.gauss(0, 0.8)
        self.ripple = rng.uniform(0.05, 0.5)
        self.cycles = rng.uniform(0.5, 2.5)
        self.match = cmath.rect(rng.uniform(0.03, 0.25), rng.uniform(0, 2 * math.pi))
        self.pull = complex(rng.gauss(0, 0.02), rng.gauss(0, 0.02))
        self.out = cmath.rect(rng.uniform(0.05, 0.3), rng.uniform(0, 2 * math.pi))
        self.back_db = -self.gain_db - rng.uniform(6, 14)
        self.tau_s = plan.tau_s * (1 + rng.gauss(0, 0.04))

    def point(self, f, volts):
        x = (f - self.plan.start_hz) / (self.plan.stop_hz - self.plan.start_hz)
        v = volts - self.plan.steps[0][1]
        wave = math.sin(2 * math.pi * self.cycles * x + v)
        db = (self.gain_db + self.slope * v + self.bend * v * v + self.tilt * (x - 0.5)
              + self.ripple * wave + self.rng.gauss(0, 0.01))
        angle = -2 * math.pi * f * self.tau_s + 0.2 * wave + self.rng.gauss(0, 0.002)
        noise = complex(self.rng.gauss(0, 0.0005), self.rng.gauss(0, 0.0005))
        return {"s21": cmath.rect(10 ** (db / 20), angle),
                "s11": self.match * cmath.exp(2j * x) + self.pull * (v + wave * 0.3) + noise,
                "s12": cmath.rect(10 ** ((self.back_db + wave) / 20), angle / 2) + noise * 0.01,
                "s22": self.out * cmath.exp(1j * (x + v)) + noise}


def grid_of(rng, plan, trouble):
    """Rising integer Hz."""
    grid = [plan.start_hz + k * plan.spacing_hz for k in range(plan.n_points)]
    n = plan.n_points
    if trouble == "short-low":
        return grid[rng.randint(1, n // 2):]
    if trouble == "short-high":
        return grid[:rng.randint(n // 2, n - 1)]
    if trouble == "gap":
        first = rng.randint(1, n - 4)
        return grid[:first] + grid[first + rng.randint(1, 3):]
    if trouble == "coarse":
        return grid[::3] + ([] if (n - 1) % 3 == 0 else grid[-1:])
    if trouble == "shifted":
        shift = rng.randint(1, plan.spacing_hz - 1)
        return [f - shift for f in grid] + [grid[-1] + plan.spacing_hz - shift]
    if trouble == "sparse-outside":  # wide gaps that touch the band "on" from outside
        _, low, high = plan.bands[1]
        return [f for f in grid if low <= f <= high or f in (grid[0], grid[-1])]
    if trouble == "lone-spot":  # the spot itself is measured, its neighbours are not
        spot = plan.bands[4][1]
        return [f for f in grid if f == spot or abs(f - spot) > 2 * plan.spacing_hz]
    if trouble == "random-grid":
        inner = rng.sample(range(plan.start_hz + 1, plan.stop_hz), n + 8)
        return sorted([plan.start_hz, plan.stop_hz] + inner)
    return grid


def pair_text(kind, s):
    if kind == "ri":
        return f"{s.real:.12g} {s.imag:.12g}"
    degrees = math.degrees(cmath.phase(s))
    if kind == "ma":
        return f"{abs(s):.12g} {degrees:.12g}"
    return f"{decibels(s):.12g} {degrees:.12g}"


def decibels(s):
    return 20 * math.log10(abs(s)) if abs(s) > 0 else -400.0


def touchstone_text(rng, grid, points, z0):
    kind = rng.choice(["ri", "ma", "db"])
    unit, digits = rng.choice([("Hz", 0), ("kHz", 3), ("MHz", 6), ("GHz", 9)])
    names = [n for n in sweeps.PARAMETERS if n in points[0]]
    out = ["! a random board", f"# {unit} S {rng.choice([kind, kind.upper()])} R {z0:g}"]
    for f, point in zip(grid, points):
        numbers = " ".join(pair_text(kind, point[name]) for name in names)
        out.append(f"{scaled_text(f, digits)} {numbers}")
    return "\n".join(out) + "\n"


def csv_text(rng, grid, points):
    names = [n for n in sweeps.PARAMETERS if n in points[0]]
    kinds = {name: rng.choice(["ri", "ma", "db"]) for name in names}
    ends = {"ri": ("re", "im"), "ma": ("mag", "deg"), "db": ("db", "deg")}
    head = [f"{name}_{end}" for name in names for end in ends[kinds[name]]]
    out = [",".join(["frequency_hz"] + head)]
    for f, point in zip(grid, points):
        numbers = [pair_text(kinds[name], point[name]).replace(" ", ",") for name in names]
        out.append(",".join([str(f)] + numbers))
    return "\n".join(out) + "\n"


def spoil(rng, points, trouble):
    """Traces that no instrument measures, and single points at the ends of the scale."""
    if trouble in ("placeholder-zero", "placeholder-other-impedance"):
        for name in rng.sample(sweeps.PARAMETERS, rng.randint(1, 3)):
            for point in points:
                point[name] = 0j
    if trouble == "placeholder-same":
        name = rng.choice(sweeps.PARAMETERS)
        for point in points:
            point[name] = complex(0.1, -0.25)
    if trouble == "plateau":  # equal values at several places: the first one is to be named
        first = rng.randint(0, len(points) // 2)
        for point in points[first + 1:first + rng.randint(4, len(points) // 2)]:
            point.update(points[first])
    if trouble == "open":
        rng.choice(points)["s11"] = 1 + 0j
    if trouble == "match":
        rng.choice(points)["s11"] = 0j


def measured_bias(rng, plan, step, trouble):
    """(how the name says it, volts as measured)."""
    name, at = plan.steps[step]
    if trouble == "out-of-tolerance":
        volts = round(at + plan.tolerance_mv / 1000 * rng.choice([-1.5, 1.5]), 4)
        return f"{volts:.4f}V", volts
    if rng.random() < 0.5:
        return name, at
    volts = round(at + plan.tolerance_mv / 1000 * rng.uniform(-0.9, 0.9), 4)
    return f"{volts:.4f}" + rng.choice(["V", ""]), volts


def write_sweep(rng, plan, board, folder, serial, step, trouble):
    if trouble == "missing":
        return
    text, volts = measured_bias(rng, plan, step, trouble)
    body, ending = sweep_text(rng, plan, board, volts, trouble)
    with open(os.path.join(folder, f"{serial}_{text}{ending}"), "w", encoding="ascii") as file:
        file.write(body)


def sweep_text(rng, plan, board, volts, trouble):
    """(contents, ending of the name) of one file."""
    grid = grid_of(rng, plan, trouble)
    points = [board.point(f, volts) for f in grid]
    z0 = float(plan.z0)
    if trouble and trouble.startswith("one-port"):
        points = [{"s11": p["s11"]} for p in points]
    if trouble and trouble.endswith("other-impedance"):
        z0 = {50: 75.0, 75: 50.0}[plan.z0] if rng.random() < 0.7 else 61.5
        points = [sweeps.renormalise(p, float(plan.z0), z0) for p in points]
    spoil(rng, points, trouble)
    ending = ".s1p" if len(points[0]) == 1 else ".s2p"
    # A CSV sweep names no impedance: only where 50 ohm is what the limits file asks for.
    if plan.z0 == 50 and z0 == 50 and (trouble == "csv-part" or rng.random() < 0.2):
        ending = ".csv"
        if trouble == "csv-part":
            keep = rng.choice([["s11"], ["s21"], ["s11", "s21"], ["s12", "s22"]])
            points = [{name: p[name] for name in keep} for p in points]
    body = (csv_text(rng, grid, points) if ending == ".csv"
            else touchstone_text(rng, grid, points, z0))
    return body, ending


def write_twins(rng, plan, board, folder, serial, step):
    """The same sweep at a step and the next: equal values at two biases, and no change between."""
    names = [measured_bias(rng, plan, k, None) for k in (step, step + 1)]
    body, ending = sweep_text(rng, plan, board, names[0][1], None)
    for text, _ in names:
        with open(os.path.join(folder, f"{serial}_{text}{ending}"), "w", encoding="ascii") as file:
            file.write(body)


def write_unit(rng, plan, archive, number):
    """A third of the units is sound; the others have trouble at one bias step, some at two."""
    serial = f"RB{number + 1:04d}"
    board = Board(rng, plan)
    troubles = {}
    if rng.random() < 0.65:
        for step in rng.sample(range(len(plan.steps)), rng.choice([1, 1, 2])):
            troubles[step] = rng.choice(TROUBLES)
    elif rng.random() < 0.2:  # all at the other impedance, or all on another grid
        kind = rng.choice(["other-impedance", "random-grid", "shifted"])
        troubles = {step: kind for step in range(len(plan.steps))}
    folder = archive
    if rng.random() < 0.2:
        folder = os.path.join(archive, "shelf")
        os.makedirs(folder, exist_ok=True)
    twin = rng.randint(0, len(plan.steps) - 2) if not troubles and rng.random() < 0.2 else None
    if twin is not None:
        write_twins(rng, plan, board, folder, serial, twin)
    for step in range(len(plan.steps)):
        if twin is None or step not in (twin, twin + 1):
            write_sweep(rng, plan, board, folder, serial, step, troubles.get(step))
