"""generate.py FOLDER SEED

Writes FOLDER/limits.xml and FOLDER/archive/, a random limits file and a random archive that use
every quantity, decision rule, file shape and kind of missing data the outside evaluator knows. The
bounds are put near the values of some unit, so that every outcome occurs. Same seed, same files."""
import copy
import math
import os
import random
import sys

sys.dont_write_bytecode = True
import evaluate  # noqa: E402
import boards  # noqa: E402

LOWER, UPPER = evaluate.LOWER, evaluate.UPPER
WORDS = {LOWER: ("min", "lower"), UPPER: ("max", "upper")}
N_UNITS = 16


def random_limits(rng, plan):
    """Everything but the bounds: a list of dicts {attributes, sides, quantity}."""
    specs = []
    # quantity, sides that occur, whether it takes a bias list
    kinds = [("gain", "luB", True), ("gain", "luB", True), ("gain", "luB", True),
             ("gain-flatness", "u", True), ("gain-flatness", "u", True),
             ("input-reflection", "uuB", True), ("input-reflection", "u", True),
             ("input-reflection", "uB", True), ("output-reflection", "uul", True),
             ("reverse-isolation", "u", True), ("input-resistance", "luB", True),
             ("input-resistance", "l", True), ("input-reactance", "luB", True), ("gain-slope", "luB", False),
             ("gain-slope", "luB", False), ("gain-slope", "B", False),
             ("gain-range", "luB", False), ("gain-range", "B", False),
             ("reflection-shift", "u", True), ("reflection-shift", "u", True),
             ("stability", "l", True), ("group-delay", "uB", True)]
    for number, (quantity, sides, takes_bias) in enumerate(kinds):
        side = rng.choice(sides)
        spec = {"quantity": quantity, "id": f"{quantity}-{number}", "attributes": {}, "lines": {},
                "sides": {"l": [LOWER], "u": [UPPER], "B": [LOWER, UPPER]}[side]}
        choose_biases(rng, plan, spec, takes_bias)
        choose_range(rng, plan, spec)
        specs.append(spec)
    rng.shuffle(specs)
    return specs


def choose_biases(rng, plan, spec, takes_bias):
    ids = [name for name, _ in plan.steps]
    attributes = spec["attributes"]
    if takes_bias:
        way = rng.random()
        if way < 0.35:
            attributes["bias"] = rng.choice(ids)
        elif way < 0.65:
            attributes["bias"] = " ".join(rng.sample(ids, rng.randint(2, len(ids))))
        elif way < 0.85:
            attributes["bias"] = "all"
    if spec["quantity"] == "reflection-shift":
        attributes["reference"] = rng.choice(ids)
        if attributes.get("bias") == attributes["reference"]:
            del attributes["bias"]
    if spec["quantity"] == "gain-range":
        attributes["from"], attributes["to"] = rng.sample(ids, 2)
    if spec["quantity"] == "gain-slope":
        if rng.random() < 0.6:
            attributes["from"], attributes["to"] = rng.sample(ids, 2)
        if rng.random() < 0.8:
            attributes["method"] = rng.choice(["local", "fit"])


def choose_range(rng, plan, spec):
    """A band, a mask, or both; the lines hold offsets until the bounds are put."""
    band = rng.choice([b for b in plan.bands if b[1] != b[2] or spec["quantity"] != "gain-flatness"])
    spot = band[1] == band[2]
    mask = spec["quantity"] != "gain-flatness" and rng.random() < (0.05 if spot else 0.45)
    with_band = not mask or spot or rng.random() < 0.4
    if with_band:
        spec["attributes"]["band"] = band[0]
    elif rng.random() < 0.4:
        step = plan.spacing_hz * rng.choice([2, 3, 4]) // 2
        spec["attributes"]["max-step"] = boards.frequency_text(rng, step)
    if mask and not with_band and len(spec["sides"]) == 2 and rng.random() < 0.4:
        apart_lines(rng, plan, spec)
        return
    for side in spec["sides"]:
        if mask and not (with_band and len(spec["sides"]) == 2 and rng.random() < 0.4):
            spec["lines"][side] = random_mask(rng, plan, band if with_band else None)
        else:
            spec["lines"][side] = [(None, 0.0)]


def apart_lines(rng, plan, spec):
    """Two lines with a stretch of no bound between them, where a gap does no harm."""
    part = (plan.stop_hz - plan.start_hz) // 5
    spec["lines"] = {LOWER: [(plan.start_hz + part // 3, 0.0), (plan.start_hz + part, 1.0)],
                     UPPER: [(plan.stop_hz - part, 0.0), (plan.stop_hz - part // 2, -1.0)]}
    spec["attributes"]["max-step"] = boards.frequency_text(rng, plan.spacing_hz)


def random_mask(rng, plan, band):
    """Corners on and off the grid; over part of the sweep; longer or shorter than its band."""
    low, high = plan.start_hz, plan.stop_hz
    span = high - low
    if band is not None and band[1] == band[2]:
        first, last = band[1] - span // 9, band[1] + span // 7
    elif band is not None:
        first = rng.randint(max(low, band[1] - span // 5), (band[1] * 2 + band[2]) // 3)
        last = rng.randint((band[1] + band[2] * 2) // 3, min(high, band[2] + span // 5))
    else:
        first = rng.randint(low, low + span // 2)
        last = rng.randint(first + span // 6, high)
    if rng.random() < 0.3:
        first = low
    corners = {first, last}
    for _ in range(rng.randint(0, 4)):
        f = rng.randint(first + 1, last - 1)
        corners.add(rng.choice([f, plan.on_grid(f)]))
    corners = sorted(c for c in corners if first <= c <= last)
    offsets = [round(rng.uniform(-1, 1), 2) if rng.random() < 0.7 else 0.0 for _ in corners]
    return list(zip(corners, offsets))


# --- bounds near the values ---

def number_text(value):
    return f"{value:.4f}".rstrip("0").rstrip(".") if abs(value) >= 0.05 else f"{value:.7f}"


def unit_text(quantity):
    """With the space that goes before it; nothing for a bare number."""
    unit = evaluate.UNITS.get(quantity, "dB")
    return "" if unit == "1" else " " + unit


def limits_text(rng, plan, specs):
    out = ['<?xml version="1.0" encoding="UTF-8"?>',
           '<limits xmlns="urn:gainsieve:limits:1" product="random board" revision="1" '
           f'impedance="{plan.z0} ohm">', f'  <bias-steps tolerance="{plan.tolerance_mv} mV">']
    out += [f'    <bias id="{name}" at="{at:.2f} V"/>' for name, at in plan.steps_as_written]
    out += ["  </bias-steps>", "  <bands>", *plan.bands_text, "  </bands>"]
    if plan.rule:
        factor = f' guard-factor="{plan.factor}"' if plan.factor else ""
        out.append(f'  <decision rule="{plan.rule}"{factor}/>')
    for spec in specs:
        unit = unit_text(spec["quantity"])
        attributes = dict(spec["attributes"], id=spec["id"])
        children = []
        for side, line in sorted(spec["lines"].items()):
            flat, mask = WORDS[side]
            if line[0][0] is None:
                attributes[flat] = number_text(line[0][1]) + unit
                continue
            points = "".join(f'<point at="{boards.frequency_text(rng, f)}" '
                             f'value="{number_text(v)}{unit}"/>' for f, v in line)
            children.append(f"<{mask}>{points}</{mask}>")
        if rng.random() < 0.2:
            children.append("<when-failed>Look at the solder joints.</when-failed>")
        if spec.get("uncertainty") is not None:
            attributes["uncertainty"] = spec["uncertainty"]
        words = " ".join(f'{k}="{v}"' for k, v in attributes.items())
        out.append(f"  <{spec['quantity']} {words}>{''.join(children)}</{spec['quantity']}>")
    return "\n".join(out + ["</limits>", ""])


def margins_of(rng, plan, spec, side, path, units):
    """The worst margin of each unit against one side of a limit alone, ignoring uncertainty."""
    alone = copy.deepcopy(spec)
    alone["lines"] = {side: spec["lines"][side]}
    alone.pop("uncertainty", None)
    with open(path, "w", encoding="utf-8") as file:
        file.write(limits_text(rng, plan, [alone]))
    limit = evaluate.read_limits(path).limits[0]
    found = [evaluate.worst_place(limit, evaluate.values_of_unit(limit, unit)[0])
             for unit in units.values()]
    return sorted(worst[0] for worst in found if worst)


def shifted(line, offset):
    return [(f, round(v + offset, 6)) for f, v in line]


def put_bounds(rng, plan, spec, path, units):
    """Moves the lines so that some unit's margin lies within a guard band or two of its bound."""
    stretch_masks(rng, plan, spec, path, units)
    guard, first = None, rng.choice(spec["sides"])
    for side in sorted(spec["sides"], key=lambda s: s != first):
        margins = margins_of(rng, plan, spec, side, path, units) or [0.0]
        if guard is None:
            spread = margins[len(margins) * 3 // 4] - margins[len(margins) // 4]
            guard = max(spread, 1e-3) * rng.uniform(0.25, 1.0)
            pivot = rng.choice(margins)
            wanted = guard * rng.uniform(-1.6, 1.6)
        else:
            pivot = margins[len(margins) // 4]
            wanted = guard * rng.uniform(-0.5, 4)
        offset = pivot - wanted if side == LOWER else wanted - pivot
        spec["lines"][side] = shifted(spec["lines"][side], offset)
        if spec["quantity"] == "gain-flatness":
            # Nothing can be flatter than flat, and the limits file says so.
            spec["lines"][side] = [(f, max(v, 0.0)) for f, v in spec["lines"][side]]
    if len(spec["sides"]) == 2:
        part_lines(spec, guard)
    put_uncertainty(rng, plan, spec, guard, first)


def stretch_masks(rng, plan, spec, path, units):
    """Offsets of a mask in proportion to how much the units differ."""
    for side in spec["sides"]:
        line = spec["lines"][side]
        flat = dict(spec, lines={side: [(f, 0.0) for f, _ in line]})
        margins = margins_of(rng, plan, flat, side, path, units) or [0.0, 1.0]
        scale = max(margins[len(margins) * 3 // 4] - margins[len(margins) // 4], 1e-3)
        spec["lines"][side] = [(f, v * scale) for f, v in line]


def part_lines(spec, guard):
    """The upper line stays above the lower one wherever both have a say."""
    lines = {}
    for side, line in spec["lines"].items():
        points = line if line[0][0] is not None else [(0, line[0][1]), (1e12, line[0][1])]
        lines[side] = evaluate.Line(points)
    shared = [f for line in lines.values() for f, _ in line.points
              if all(other.holds(f) for other in lines.values())]
    room = min((lines[UPPER].at(f) - lines[LOWER].at(f) for f in shared), default=guard)
    if room < guard / 2:
        spec["lines"][UPPER] = shifted(spec["lines"][UPPER], guard / 2 - room + guard / 100)


def put_uncertainty(rng, plan, spec, guard, side):
    """Often stated, sometimes zero or not stated; of a reflection mostly linear."""
    way = rng.random()
    if way < 0.1:
        return
    u = 0.0 if way < 0.2 else guard / float(plan.factor or 1)
    words = unit_text(spec["quantity"])
    if spec["quantity"] in evaluate.REFLECTIONS and rng.random() < 0.7:
        words = ""
        u *= math.log(10) / 20 * 10 ** (spec["lines"][side][0][1] / 20)
    spec["uncertainty"] = f"{u:.4g}{words}" if u >= 1e-4 or u == 0 else f"{u:.8f}{words}"


def main(folder, seed):
    rng = random.Random(seed)
    plan = boards.Plan(rng)
    archive = os.path.join(folder, "archive")
    os.makedirs(archive)
    for number in range(N_UNITS):
        boards.write_unit(rng, plan, archive, number)
    steps = plan.steps
    units = evaluate.sweeps.read_archive(archive, steps, plan.tolerance_mv / 1000, float(plan.z0))
    path = os.path.join(folder, "limits.xml")
    specs = random_limits(rng, plan)
    for spec in specs:
        put_bounds(rng, plan, spec, path, units)
    with open(path, "w", encoding="utf-8") as file:
        file.write(limits_text(rng, plan, specs))


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__.splitlines()[0])
    main(sys.argv[1], int(sys.argv[2]))
