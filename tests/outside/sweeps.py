"""Reads sweeps and archives for the outside evaluator: Touchstone version 1 and CSV, written anew
from design chapter 4, so that the program's own readers are not their only witness."""
import cmath
import math
import os
from decimal import Decimal

UNITS_HZ = {"hz": 1, "khz": 10**3, "mhz": 10**6, "ghz": 10**9}
PARAMETERS = ("s11", "s21", "s12", "s22")
SLACK = 1e-9            # frequencies closer than this, relative, are the same
PLACEHOLDER = 1e-6      # -120 dB, as abs(S)


class Sweep:
    """`f`: rising Hz; `s`: parameter name -> complex numbers, one a point; `z0`: ohm."""

    def __init__(self, f, s, z0):
        self.f, self.s, self.z0 = f, s, z0


def polar(magnitude, degrees):
    return cmath.rect(magnitude, math.radians(degrees))


def number_pair(kind, a, b):
    """Two numbers of a file as a complex number; `kind` is ri, ma or db."""
    if kind == "ri":
        return complex(a, b)
    return polar(a if kind == "ma" else 10 ** (a / 20), b)


def exact_hz(text, scale):
    """The product is exact before it is rounded once: 0.1601 GHz is 160100000 Hz."""
    return float(Decimal(text) * scale)


def read_touchstone(path):
    ports = 1 if path.lower().endswith(".s1p") else 2
    option, tokens = None, []
    with open(path, encoding="ascii") as file:
        for line in file:
            line = line.split("!")[0].strip()
            if line.startswith("#"):
                option = option or line[1:].lower().split()
            elif line:
                tokens += line.split()
    unit, kind, z0 = "ghz", "ma", 50.0
    i = 0
    while i < len(option):
        word = option[i]
        if word in UNITS_HZ:
            unit = word
        elif word in ("ri", "ma", "db"):
            kind = word
        elif word == "r":
            i += 1
            z0 = float(option[i])
        elif word != "s":
            raise ValueError(f"{path}: option {word}")
        i += 1
    names = PARAMETERS[:1] if ports == 1 else PARAMETERS
    width = 1 + 2 * len(names)
    if not tokens or len(tokens) % width:
        raise ValueError(f"{path}: not rows of {width} numbers")
    sweep = Sweep([], {name: [] for name in names}, z0)
    for row in range(0, len(tokens), width):
        sweep.f.append(exact_hz(tokens[row], UNITS_HZ[unit]))
        for k, name in enumerate(names):
            a, b = tokens[row + 1 + 2 * k], tokens[row + 2 + 2 * k]
            sweep.s[name].append(number_pair(kind, float(a), float(b)))
    return sweep


def read_csv(path):
    """A CSV sweep names no impedance; 50 ohm is taken."""
    kinds = {"re": "ri", "mag": "ma", "db": "db"}
    with open(path, encoding="ascii") as file:
        rows = [line.strip().split(",") for line in file if line.strip()]
    head = rows[0]
    sweep = Sweep([float(row[0]) for row in rows[1:]], {}, 50.0)
    for column in range(1, len(head), 2):
        name, first = head[column].split("_")
        sweep.s[name] = [number_pair(kinds[first], float(row[column]), float(row[column + 1]))
                         for row in rows[1:]]
    return sweep


def is_placeholder(trace):
    """What no instrument measures: nothing at all, or one number everywhere."""
    return (all(abs(s) < PLACEHOLDER for s in trace)
            or (len(trace) > 1 and all(s == trace[0] for s in trace)))


def renormalise(s, z_from, z_to):
    """S-parameters of one point against another real impedance, the same at all ports:
    S' = (S - r)(1 - r S)^-1 with r = (z_to - z_from)/(z_to + z_from)."""
    r = (z_to - z_from) / (z_to + z_from)
    if len(s) == 1:
        return {"s11": (s["s11"] - r) / (1 - r * s["s11"])}
    a, b, c, d = s["s11"], s["s12"], s["s21"], s["s22"]
    p, q, u, v = 1 - r * a, -r * b, -r * c, 1 - r * d
    det = p * v - q * u
    return {"s11": ((a - r) * v - b * u) / det, "s12": (b * p - (a - r) * q) / det,
            "s21": (c * v - (d - r) * u) / det, "s22": ((d - r) * p - c * q) / det}


def prepare(sweep, z0):
    """Without placeholder traces and at the impedance `z0`; None when it cannot be brought there.
    Placeholders are looked for in the numbers as the file gives them: renormalised, a trace of
    zeros mixes with the others and looks measured."""
    one_port = list(sweep.s) == ["s11"]
    s = {name: trace for name, trace in sweep.s.items() if not is_placeholder(trace)}
    if sweep.z0 == z0:
        return Sweep(sweep.f, s, z0)
    needed = ("s11",) if one_port else PARAMETERS
    if any(name not in s for name in needed):
        return None
    points = [renormalise({name: s[name][k] for name in needed}, sweep.z0, z0)
              for k in range(len(sweep.f))]
    return Sweep(sweep.f, {name: [p[name] for p in points] for name in needed}, z0)


def bias_of_name(text, steps, tolerance_v):
    """(index of the step, measured volts), or None when it fits no step. `steps`: [(id, volts)]."""
    for i, (name, at_v) in enumerate(steps):
        if text == name:
            return i, at_v
    try:
        volts = float(text[:-1] if text.endswith("V") else text)
    except ValueError:
        return None
    for i, (_, at_v) in enumerate(steps):
        if abs(volts - at_v) <= tolerance_v:
            return i, volts
    return None


def read_archive(folder, steps, tolerance_v, z0):
    """serial -> {step index: (volts, sweep or None)}, by names SERIAL_BIAS.s2p (.s1p, .csv)."""
    units = {}
    for at, _, names in os.walk(folder):
        for name in sorted(names):
            stem, ending = os.path.splitext(name)
            if ending not in (".s1p", ".s2p", ".csv"):
                continue
            serial, bias = stem.rsplit("_", 1)
            unit = units.setdefault(serial, {})
            found = bias_of_name(bias, steps, tolerance_v)
            if found is None:
                continue
            step, volts = found
            if step in unit:
                raise ValueError(f"{name}: a second file of the same serial and bias")
            read = read_csv if ending == ".csv" else read_touchstone
            unit[step] = volts, prepare(read(os.path.join(at, name)), z0)
    return units
