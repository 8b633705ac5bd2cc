"""compare.py RESULTS.csv EXPECTED.csv

Compares results row by row, keyed by serial, attempt and limit: words exactly, numbers to 1e-6
(of themselves where they are above 1; frequencies always relative). Prints every difference, exits
1 if there is any or if there was nothing to compare."""
import csv
import sys

WORDS = ("outcome", "accepted")
NUMBERS = ("value", "bound", "margin", "uncertainty", "conformance_probability", "frequency_hz",
           "bias_v")
TOLERANCE = 1e-6


def read_rows(path):
    rows = {}
    with open(path, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            key = row["serial"], row["attempt"], row["limit"]
            if key in rows:
                sys.exit(f"{path}: two rows for {' '.join(key)}")
            rows[key] = row
    return rows


def numbers_agree(a, b):
    if a == "" or b == "":
        return a == b
    try:
        x, y = float(a), float(b)
    except ValueError:
        return False
    return abs(x - y) <= TOLERANCE * max(1.0, abs(y))  # false with NaN


def differences(ours, theirs):
    found = [f"{name} {ours.get(name)!r}, expected {theirs[name]!r}"
             for name in WORDS if ours.get(name) != theirs[name]]
    found += [f"{name} {ours.get(name)!r}, expected {theirs[name]!r}"
              for name in NUMBERS if not numbers_agree(ours.get(name, "absent"), theirs[name])]
    return found


def main(results_path, expected_path):
    results, expected = read_rows(results_path), read_rows(expected_path)
    different = 0
    for key in sorted(results.keys() | expected.keys()):
        if key not in results:
            found = ["row is missing"]
        elif key not in expected:
            found = ["row is not expected"]
        else:
            found = differences(results[key], expected[key])
        if found:
            different += 1
            quantity = (expected.get(key) or results[key]).get("quantity", "")
            print(f"{' '.join(key)} ({quantity}): {'; '.join(found)}")
            if key in results and results[key].get("reason"):
                print(f"    the program's reason: {results[key]['reason']}")
    compared = len(results.keys() | expected.keys())
    print(f"{compared} compared, {different} different")
    return 1 if different or not compared else 0


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__.splitlines()[0])
    sys.exit(main(*sys.argv[1:]))
