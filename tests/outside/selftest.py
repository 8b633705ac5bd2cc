"""The outside evaluator against small cases worked out by hand and against outside values. Reason:
an evaluator that is wrong would either blame a right program or excuse a wrong one."""
import cmath
import contextlib
import io
import math
import os
import sys
import tempfile
import unittest

sys.dont_write_bytecode = True
import compare  # noqa: E402
import evaluate  # noqa: E402
import generate  # noqa: E402
import sweeps  # noqa: E402

MHZ = 1e6
HEAD = """<limits xmlns="urn:gainsieve:limits:1" product="p" impedance="50 ohm">
<bias-steps tolerance="20 mV"><bias id="low" at="1 V"/><bias id="mid" at="2 V"/>
<bias id="high" at="4 V"/></bias-steps>
<bands><band id="wide" from="100 MHz" to="103 MHz"/><band id="odd" from="100.5 MHz" to="102 MHz"/>
<band id="tight" from="100 MHz" to="103 MHz" max-step="1 MHz"/>
<band id="spot" at="101.5 MHz" max-step="1 MHz"/><band id="point" at="102 MHz"/></bands>
"""


def polar(magnitude, degrees):
    return cmath.rect(magnitude, math.radians(degrees))


def sweep_of(start_mhz=100, **traces):
    """1 MHz steps; a trace is a list of complex numbers."""
    n = len(next(iter(traces.values())))
    return sweeps.Sweep([(start_mhz + k) * MHZ for k in range(n)], traces, 50.0)


def gains_db(*values, **more):
    return sweep_of(s21=[complex(10 ** (v / 20)) for v in values], **more)


def limits_of(limit, decision=""):
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "limits.xml")
        with open(path, "w", encoding="utf-8") as file:
            file.write(HEAD + decision + limit + "</limits>")
        return evaluate.read_limits(path)


def judged(limit, decision="", **sweep_by_bias):
    """The row of one limit; biases low=, mid=, high= as a sweep or (volts, sweep)."""
    limits = limits_of(limit, decision)
    unit = {}
    for i, (name, volts) in enumerate(limits.steps):
        if name in sweep_by_bias:
            given = sweep_by_bias[name]
            unit[i] = given if isinstance(given, tuple) else (volts, given)
    return evaluate.judge(limits, limits.limits[0], unit)


class Formulas(unittest.TestCase):
    def near(self, a, b, tolerance=1e-9):
        self.assertLessEqual(abs(a - b), tolerance, f"{a} is not {b}")

    def test_renormalising_agrees_with_outside_values(self):
        # Computed by a published network library and by matrix formulae, 50 to 75 ohm.
        s = {"s11": 0.1 + 0.05j, "s12": 0.02 - 0.01j, "s21": 3 + 1j, "s22": 0.2 - 0.1j}
        new = sweeps.renormalise(s, 50.0, 75.0)
        self.near(new["s11"], -0.08793660177 + 0.04787309812j, 1e-10)
        self.near(new["s12"], 0.02034879296 - 0.01045792736j, 1e-10)
        # The figure given with them for s21 (its imaginary part, 0.98909056) does not fit the
        # same source's Z-parameters, nor s12 by s21/s12, which renormalising keeps; these two do
        # agree, so s21 is held against them.
        self.near(new["s21"], (0.02034879296 - 0.01045792736j) * (3 + 1j) / (0.02 - 0.01j), 1e-8)
        z11, z12 = 72.50794568 + 4.04507368j, 2.88933834 - 1.79138977j
        z21, z22 = 468.07281123 + 109.79485698j, 85.56775498 - 20.05200809j
        self.near(new["s21"], 150 * z21 / ((z11 + 75) * (z22 + 75) - z12 * z21), 1e-8)
        self.near(new["s22"], 0.01267323952 - 0.10672756522j, 1e-10)
        one = sweeps.renormalise({"s11": 0.2 + 0.1j}, 75.0, 50.0)
        self.near(one["s11"], 0.386321626617 + 0.088724584104j, 1e-11)

    def test_stability_of_published_transistors(self):
        # Textbook amplifier examples (from memory): GaAs FET at 2 GHz, bipolar at 200 MHz.
        fet = {"s11": polar(0.894, -60.6), "s12": polar(0.020, 62.4),
               "s21": polar(3.122, 123.6), "s22": polar(0.781, -27.6)}
        bipolar = {"s11": polar(0.4, 162), "s12": polar(0.04, 60),
                   "s21": polar(5.2, 63), "s22": polar(0.35, -39)}
        for device, mu in ((fet, 0.862815), (bipolar, 1.435407)):
            sweep = sweep_of(**{name: [s, s] for name, s in device.items()})
            self.near(evaluate.stability(sweep, (0, 0.0)), mu, 5e-7)

    def test_input_impedance_and_reflection(self):
        # Definitions: 0.3 at 60 degrees; VSWR 2 is a return loss of 9.5424 dB (common practice).
        sweep = sweep_of(s11=[polar(0.3, 60), 1 / 3 + 0j, 1 + 0j, 0j])
        self.near(evaluate.impedance(sweep, (0, 0.0)), 57.594937 + 32.887041j, 1e-6)
        self.near(evaluate.FORMULAS["input-reflection"](sweep, (1, 0.0)), -9.5424, 5e-5)
        self.assertFalse(math.isfinite(evaluate.impedance(sweep, (2, 0.0)).real))
        self.assertEqual(evaluate.FORMULAS["input-reflection"](sweep, (3, 0.0)), -400.0)

    def test_group_delay_of_a_line(self):
        # 5 ns everywhere, ends and places between points included (exact by definition).
        f = [(160 + k) * MHZ for k in range(19)]
        line = sweeps.Sweep(f, {"s21": [polar(1, -360 * 5e-9 * x) for x in f]}, 50.0)
        for k in range(19):
            self.near(evaluate.group_delay(line, (k, 0.0)), 5.0, 1e-9)
        self.near(evaluate.group_delay(line, (3, 0.5)), 5.0, 1e-9)

    def test_group_delay_takes_two_neighbours_or_one_interval(self):
        # -90 then -180 degrees over 1 MHz each: 250 and 500 ns, and 375 at the point between.
        sweep = sweep_of(s21=[polar(1, 100), polar(1, 10), polar(1, -170)])
        sweep.s["s21"][2] = polar(1, -169.9)
        self.near(evaluate.group_delay(sweep, (0, 0.0)), 250.0)
        self.near(evaluate.group_delay(sweep, (0, 0.4)), 250.0)
        self.near(evaluate.group_delay(sweep, (1, 0.0)), (90 + 179.9) / 360 / 2e6 * 1e9)

    def test_interpolation_is_of_real_and_imaginary_part(self):
        # Halfway from 10 to 10j lies 5+5j: 16.9897 dB, not 20.
        sweep = sweep_of(s21=[10 + 0j, 10j])
        place = evaluate.locate(sweep, 100.5 * MHZ, 0)
        self.near(evaluate.gain(sweep, place), 10 * math.log10(50))

    def test_frequencies_are_exact_before_they_are_rounded(self):
        self.assertEqual(sweeps.exact_hz("0.1601", 10**9), 160100000.0)
        self.assertEqual(evaluate.quantity_value("160.1 MHz"), 160100000.0)
        self.assertEqual(evaluate.quantity_value("10 mV"), 0.01)

    def test_slope_of_a_line(self):
        # Through (0,1) (1,2) (3,5): mean 4/3 and 8/3, slope (4/3*5/3 + 1/3*2/3 + 5/3*7/3)/(14/3).
        self.near(evaluate.least_squares_slope([0, 1, 3], [1, 2, 5]), 57 / 42)


class Decision(unittest.TestCase):
    def test_outcomes_at_the_edges(self):
        for margin, outcome in ((0.2, "pass"), (0.19, "conditional-pass"), (0, "conditional-pass"),
                                (-0.01, "conditional-fail"), (-0.2, "fail"), (-0.3, "fail")):
            self.assertEqual(evaluate.outcome_of(margin, 0.2), outcome)
        self.assertEqual(evaluate.outcome_of(0, 0.0), "pass")
        self.assertEqual(evaluate.outcome_of(-1e-12, 0.0), "fail")

    def test_rules_and_guard_factor(self):
        limit = '<gain id="g" bias="low" band="wide" min="20 dB" uncertainty="0.2 dB"/>'
        sweep = gains_db(21, 20.15, 21, 21)
        rows = {d: judged(limit, d, low=sweep) for d in (
            "", '<decision rule="simple-acceptance"/>',
            '<decision rule="guarded-acceptance" guard-factor="0.5"/>')}
        found = [(r["outcome"], r["accepted"]) for r in rows.values()]
        self.assertEqual(found, [("conditional-pass", "no"), ("conditional-pass", "yes"),
                                 ("pass", "yes")])

    def test_conformance_probability(self):
        # Normal distribution, u = U/2, one limit: margin/U 0, 0.5, 1, -0.5 (exact).
        for share, expected in ((0, 0.5), (0.5, 0.841344746068543), (1, 0.977249868051821),
                                (-0.5, 0.158655253931457)):
            row = judged('<gain id="g" bias="low" band="wide" min="20 dB" uncertainty="0.2 dB"/>',
                         low=gains_db(25, 20 + 0.2 * share, 25, 25))
            self.assertAlmostEqual(row["conformance_probability"], expected, 12)
        # Two-sided, oil viscosity of JCGM 106 (from memory): 13.6, u 1.8, 12.5 to 16.3: 0.66.
        row = judged('<gain id="g" bias="low" band="point" min="12.5 dB" max="16.3 dB" '
                     'uncertainty="3.6 dB"/>', low=gains_db(1, 1, 13.6, 2))
        self.assertAlmostEqual(row["conformance_probability"], 0.662630, 6)

    def test_no_and_zero_uncertainty(self):
        row = judged('<gain id="g" bias="low" band="wide" min="20 dB"/>', low=gains_db(*[21] * 3, 22))
        self.assertEqual((row["outcome"], row["uncertainty"]), ("pass", None))
        self.assertIsNone(row["conformance_probability"])
        for low, expected in ((20.5, 1.0), (19.5, 0.0)):
            row = judged('<gain id="g" bias="low" band="wide" min="20 dB" uncertainty="0 dB"/>',
                         low=gains_db(21, low, 21, 21))
            self.assertEqual(row["conformance_probability"], expected)

    def test_linear_uncertainty_of_a_reflection(self):
        # -20 dB is 0.1: 0.095 is 0.005 inside, within U = 0.006; shown in dB.
        row = judged('<input-reflection id="r" bias="low" band="wide" max="-20 dB" '
                     'uncertainty="0.006"/>', low=sweep_of(s11=[0.05, 0.095j, 0.01, 0.02]))
        self.assertEqual(row["outcome"], "conditional-pass")
        self.assertAlmostEqual(row["margin"], -20 - 20 * math.log10(0.095), 9)
        self.assertEqual(row["uncertainty"], 0.006)
        self.assertAlmostEqual(row["conformance_probability"], evaluate.normal_cdf(5 / 3), 12)

    def test_worst_place_is_by_linear_margin(self):
        # Bound -6 to -40 dB: 2 dB at the loud end is 0.1 in abs(S), 6 dB at the quiet end 0.005.
        mask = ('<input-reflection id="r" bias="low"{}><upper><point at="100 MHz" value="-6 dB"/>'
                '<point at="101 MHz" value="-40 dB"/></upper></input-reflection>')
        sweep = sweep_of(s11=[10 ** (-8 / 20), 10 ** (-46 / 20)])
        row = judged(mask.format(""), low=sweep)
        self.assertEqual(row["frequency_hz"], 100 * MHZ)
        row = judged(mask.format(' uncertainty="0.001"'), low=sweep)
        self.assertEqual(row["frequency_hz"], 101 * MHZ)
        self.assertAlmostEqual(row["margin"], 6, 9)


class Places(unittest.TestCase):
    def test_a_band_edge_between_points_is_judged(self):
        # From 30 dB at 100 MHz to 10 dB at 101 MHz; the edge at 100.5 is in, 100 is not.
        row = judged('<gain id="g" bias="low" band="odd" max="25 dB"/>', low=gains_db(30, 10, 9, 9))
        mean = 20 * math.log10((10 ** 1.5 + 10 ** 0.5) / 2)
        self.assertEqual(row["frequency_hz"], 100.5 * MHZ)
        self.assertAlmostEqual(row["value"], mean, 9)

    def test_mask_corner_off_the_grid(self):
        # The peak of the mask at 101.5 MHz is where a flat 20 dB comes nearest to it.
        row = judged('<gain id="g" bias="low"><lower><point at="100 MHz" value="10 dB"/>'
                     '<point at="101.5 MHz" value="19 dB"/><point at="103 MHz" value="10 dB"/>'
                     '</lower></gain>', low=gains_db(20, 20, 20, 20.5))
        self.assertEqual((row["frequency_hz"], row["bound"]), (101.5 * MHZ, 19.0))

    def test_mask_counts_within_its_band_only(self):
        # 100 MHz is below the mask but outside the band 100.5..102; the bound there is cut at 15.
        row = judged('<gain id="g" bias="low" band="odd"><lower><point at="100 MHz" value="10 dB"/>'
                     '<point at="101 MHz" value="20 dB"/></lower></gain>', low=gains_db(5, 30, 30, 30))
        self.assertEqual((row["frequency_hz"], row["bound"]), (100.5 * MHZ, 15.0))
        self.assertEqual(row["outcome"], "pass")

    def test_each_line_has_its_own_range(self):
        # The minimum holds over the band, the upper line from 102 MHz; 40 dB at 100 MHz is allowed.
        row = judged('<gain id="g" bias="low" band="wide" min="10 dB"><upper>'
                     '<point at="102 MHz" value="25 dB"/><point at="103 MHz" value="25 dB"/></upper>'
                     '</gain>', low=gains_db(40, 20, 22, 20))
        self.assertEqual((row["outcome"], row["margin"]), ("pass", 25 - row["value"]))
        self.assertAlmostEqual(row["value"], 22, 9)

    def test_ties_go_to_the_lower_bias_then_frequency_then_lower_line(self):
        sweep = gains_db(20, 20, 20, 21)
        row = judged('<gain id="g" band="wide" min="10 dB"/>', low=sweep, mid=sweep, high=sweep)
        self.assertEqual((row["bias_v"], row["frequency_hz"]), (1.0, 100 * MHZ))
        # 50 ohm lies in the middle of 40..60.
        row = judged('<input-resistance id="g" bias="low" band="wide" min="40 ohm" max="60 ohm"/>',
                     low=sweep_of(s11=[0j, 0j, 0j, 0j]))
        self.assertEqual((row["bound"], row["frequency_hz"]), (40.0, 100 * MHZ))


class Coverage(unittest.TestCase):
    limit = '<gain id="g" bias="low" band="tight" min="20 dB"/>'

    def test_short_sweep(self):
        # 103 MHz is not reached: incomplete, unless what is seen fails.
        self.assertEqual(judged(self.limit, low=gains_db(25, 25, 26))["outcome"], "incomplete")
        row = judged(self.limit, low=gains_db(25, 19, 26))
        self.assertEqual((row["outcome"], row["frequency_hz"]), ("fail", 101 * MHZ))

    def test_step_of_just_the_spacing_is_enough(self):
        self.assertEqual(judged(self.limit, low=gains_db(25, 25, 26, 25))["outcome"], "pass")
        sweep = gains_db(25, 25, 26, 25)  # in GHz, the differences of such numbers round upwards
        sweep.f = [f * (1 + 1e-15) for f in sweep.f]
        self.assertEqual(judged(self.limit, low=sweep)["outcome"], "pass")

    def test_gap(self):
        sweep = gains_db(25, 25, 26, 25)
        sweep.f[1:] = [101 * MHZ, 102.5 * MHZ, 103 * MHZ]
        self.assertEqual(judged(self.limit, low=sweep)["outcome"], "incomplete")
        # A gap before the first point in the band only touches it.
        sweep = gains_db(1, 25, 26, 25, 25)
        sweep.f = [90 * MHZ] + [(100 + k) * MHZ for k in range(4)]
        self.assertEqual(judged(self.limit, low=sweep)["outcome"], "pass")

    def test_spot_band_needs_neighbours_or_the_point(self):
        limit = '<gain id="g" bias="low" band="spot" min="20 dB"/>'
        self.assertEqual(judged(limit, low=gains_db(25, 25, 26, 25))["outcome"], "pass")
        wide = gains_db(25, 1)
        wide.f = [101 * MHZ, 103 * MHZ]  # 101.5 lies in a gap: incomplete, and not judged
        self.assertEqual(judged(limit, low=wide)["outcome"], "incomplete")
        exact = gains_db(1, 25, 1)
        exact.f = [90 * MHZ, 101.5 * MHZ, 120 * MHZ]
        self.assertEqual(judged(limit, low=exact)["outcome"], "pass")
        self.assertEqual(judged(limit, low=gains_db(25, 26))["outcome"], "incomplete")

    def test_missing_step(self):
        # A failure that is seen outweighs what is missing.
        limit = '<gain id="g" bias="low mid" band="wide" min="20 dB"/>'
        row = judged(limit, low=gains_db(25, 25, 26, 25))
        self.assertEqual((row["outcome"], row["accepted"], row.get("value")), ("incomplete", "no", None))
        self.assertEqual(judged(limit, mid=gains_db(5, 6, 7, 8))["outcome"], "fail")
        self.assertEqual(judged(limit)["outcome"], "incomplete")

    def test_infinite_resistance(self):
        limit = '<input-resistance id="z" bias="low" band="wide" max="60 ohm"/>'
        self.assertEqual(judged(limit, low=sweep_of(s11=[0j, 1 + 0j, 0.01j, 0j]))["outcome"],
                         "incomplete")

    def test_placeholders(self):
        self.assertTrue(sweeps.is_placeholder([0j, 1e-7j]))
        self.assertTrue(sweeps.is_placeholder([0.1 + 0j, 0.1 + 0j]))
        self.assertFalse(sweeps.is_placeholder([0.1 + 0j]))  # one point is no sign
        self.assertFalse(sweeps.is_placeholder([0j, 2e-6 + 0j]))
        sweep = sweep_of(s11=[0j] * 4, s21=[9, 10, 10, 10], s12=[0.1, 0.2, 0.1, 0.1],
                         s22=[0.1, 0.2, 0.1, 0.1])
        self.assertNotIn("s11", sweeps.prepare(sweep, 50.0).s)
        self.assertIsNone(sweeps.prepare(sweep, 75.0))
        self.assertIn("s11", sweeps.prepare(sweep_of(s11=[0.1, 0.2]), 75.0).s)


class AcrossBias(unittest.TestCase):
    def test_local_slope_divides_by_measured_volts(self):
        # 10 dB over 1.01 V, then 8 dB over 2 V: the second is the smaller.
        limit = '<gain-slope id="s" band="point" min="1 dB/V"/>'
        row = judged(limit, low=(0.99, gains_db(1, 1, 10, 1)), mid=(2.0, gains_db(1, 1, 20, 1)),
                     high=gains_db(1, 1, 28, 1))
        self.assertAlmostEqual(row["value"], 4.0, 9)
        self.assertEqual(row["bias_v"], 3.0)
        row = judged(limit.replace('min="1 dB/V"', 'max="20 dB/V"'),
                     low=(0.99, gains_db(1, 1, 10, 1)), mid=gains_db(1, 1, 20, 1),
                     high=gains_db(1, 1, 28, 1))
        self.assertAlmostEqual(row["value"], 10 / 1.01, 9)

    def test_missing_middle_step_is_not_bridged(self):
        limit = '<gain-slope id="s" band="point" min="100 dB/V" method="local"/>'
        sweep = gains_db(1, 1, 10, 1)
        self.assertEqual(judged(limit, low=sweep, high=sweep)["outcome"], "incomplete")
        self.assertEqual(judged(limit, low=sweep, mid=sweep)["outcome"], "fail")
        limit = limit.replace("local", "fit")
        self.assertEqual(judged(limit, low=sweep, mid=sweep)["outcome"], "incomplete")

    def test_fit(self):
        # Gains 1, 2, 5 dB at 1, 2, 4 V: 57/42 dB/V, at the middle of 1 and 4 V; order of from and
        # to does not matter.
        row = judged('<gain-slope id="s" band="point" from="high" to="low" method="fit" '
                     'max="9 dB/V"/>', low=gains_db(9, 9, 1, 9), mid=gains_db(9, 9, 2, 9),
                     high=gains_db(9, 9, 5, 9))
        self.assertAlmostEqual(row["value"], 57 / 42, 9)
        self.assertEqual(row["bias_v"], 2.5)

    def test_range_is_as_written(self):
        low, high = gains_db(1, 1, 10, 1), gains_db(1, 1, 13, 1)
        row = judged('<gain-range id="r" band="point" from="low" to="high" max="9 dB"/>',
                     low=low, high=high)
        self.assertAlmostEqual(row["value"], 3, 9)
        self.assertEqual(row["bias_v"], 4.0)
        row = judged('<gain-range id="r" band="point" from="high" to="low" max="9 dB"/>',
                     low=low, high=high)
        self.assertAlmostEqual(row["value"], -3, 9)
        self.assertEqual(row["bias_v"], 1.0)

    def test_shift_is_compared_at_points_of_either_sweep(self):
        # The reference goes straight; the shifted sweep has a point at 100.7 MHz of its own.
        reference = sweep_of(s11=[0.1, 0.2, 0.2, 0.2])
        other = sweep_of(s11=[0.1, 0.17 + 0.03j, 0.2, 0.2, 0.2])
        other.f = [f * MHZ for f in (100, 100.7, 101, 102, 103)]
        row = judged('<reflection-shift id="p" bias="mid low" band="wide" reference="mid" max="1"/>',
                     low=other, mid=reference)
        self.assertEqual((row["frequency_hz"], row["bias_v"]), (100.7 * MHZ, 1.0))
        self.assertAlmostEqual(row["value"], 0.03, 12)

    def test_both_sweeps_must_cover(self):
        limit = '<gain-range id="r" band="wide" from="low" to="high" max="9 dB"/>'
        row = judged(limit, low=gains_db(1, 2, 3, 4), high=gains_db(1, 2, 3))
        self.assertEqual(row["outcome"], "incomplete")

    def test_flatness(self):
        # 25 - 21 dB, at the first of the two lowest; per bias step, not across them.
        row = judged('<gain-flatness id="f" bias="low mid" band="wide" max="5 dB"/>',
                     low=gains_db(22, 21, 25, 21), mid=gains_db(40, 41, 40, 40))
        self.assertAlmostEqual(row["value"], 4, 9)
        self.assertEqual((row["frequency_hz"], row["bias_v"]), (101 * MHZ, 1.0))


class Files(unittest.TestCase):
    def read(self, name, text):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, name)
            with open(path, "w", encoding="ascii") as file:
                file.write(text)
            return (sweeps.read_csv if name.endswith("csv") else sweeps.read_touchstone)(path)

    def test_two_port_order_is_11_21_12_22(self):
        sweep = self.read("a.s2p", "# MHz S RI R 75 ! x\n1 11 1 21 2 12 3 22 4\n")
        self.assertEqual((sweep.s["s21"], sweep.s["s12"]), ([21 + 2j], [12 + 3j]))
        self.assertEqual((sweep.f, sweep.z0), ([1e6], 75.0))

    def test_shapes(self):
        ma = self.read("a.s1p", "# ghz s ma r 50\n! note\n1 2 90\n")
        db = self.read("a.s1p", "# kHz S DB R 50\n1 20 180\n")
        table = self.read("a.csv", "frequency_hz,s11_re,s11_im,s21_db,s21_deg,s22_mag,s22_deg\n"
                          "1e9,1,2,20,90,3,0\n")
        for found, expected in ((ma.s["s11"][0], 2j), (db.s["s11"][0], -10), (table.s["s11"][0], 1 + 2j),
                                (table.s["s21"][0], 10j), (table.s["s22"][0], 3)):
            self.assertLess(abs(found - expected), 1e-12)
        self.assertEqual((ma.f, db.f, table.f), ([1e9], [1000.0], [1e9]))

    def test_bias_of_a_name(self):
        steps = [("low", 1.0), ("mid", 2.4)]
        self.assertEqual(sweeps.bias_of_name("mid", steps, 0.02), (1, 2.4))
        self.assertEqual(sweeps.bias_of_name("2.41V", steps, 0.02), (1, 2.41))
        self.assertEqual(sweeps.bias_of_name("0.99", steps, 0.02), (0, 0.99))
        self.assertIsNone(sweeps.bias_of_name("2.45V", steps, 0.02))


class Comparing(unittest.TestCase):
    def status(self, ours, theirs):
        with tempfile.TemporaryDirectory() as folder:
            paths = [os.path.join(folder, name) for name in ("a", "b")]
            for path, row in zip(paths, (ours, theirs)):
                with open(path, "w", encoding="utf-8") as file:
                    file.write(",".join(evaluate.COLUMNS) + "\n" + row)
            with contextlib.redirect_stdout(io.StringIO()):
                return compare.main(*paths)

    def test_differences_are_seen(self):
        row = "U1,1,g,gain,pass,yes,21,20,1,dB,1e8,2,0.1,0.9,\n"
        self.assertEqual(self.status(row, row), 0)
        self.assertEqual(self.status(row, row.replace("21", "21.00000001")), 0)
        for a, b in (("pass", "fail"), ("yes", "no"), ("21", "21.001"), ("1e8", "1.00001e8"),
                     ("0.9", ""), ("0.9", "nan"), ("U1", "U2")):
            self.assertEqual(self.status(row, row.replace(a, b)), 1, (a, b))
            self.assertEqual(self.status(row.replace(a, b), row), 1, (a, b))
        self.assertEqual(self.status("", ""), 1)  # nothing compared is no agreement


class Generating(unittest.TestCase):
    def test_every_outcome_is_common_and_the_seed_decides(self):
        # Reason: agreement on rows that all pass would prove little.
        counts, rows, texts = {}, 0, []
        for seed in (1, 2, 3, 1):
            with tempfile.TemporaryDirectory() as folder:
                generate.main(folder, seed)
                path = os.path.join(folder, "limits.xml")
                with open(path, encoding="utf-8") as file:
                    texts.append(file.read())
                limits = evaluate.read_limits(path)
                units = sweeps.read_archive(os.path.join(folder, "archive"), limits.steps,
                                            limits.tolerance_v, limits.z0)
            for row in evaluate.judge_archive(limits, units):
                counts[row["outcome"]] = counts.get(row["outcome"], 0) + 1
                rows += 1
        self.assertEqual(texts[0], texts[3])
        self.assertEqual(len(counts), 5)
        for outcome, n in counts.items():
            self.assertGreater(n, rows * 0.05, outcome)


if __name__ == "__main__":
    unittest.main(verbosity=0)
