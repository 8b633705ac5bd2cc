"""What `gainsieve run` costs on top of the instruments: units of five bias steps, 401 points and two
traces in 32-bit blocks, at an emulated bench that answers at once.

Usage: bench_run.py [UNITS]. Two figures over TCP, each without and with a disk's flush time: time in
run itself (processor time, and wall time less the processor time of the emulated bench, the two
taking turns). One over a pty of 115,200 baud: of the time of a sweep's traces on the line, the share
in which data move. GAINSIEVE names the program; fails when a promise is not kept."""
import os
import pathlib
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import tty

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "fault"))
import bench as b  # noqa: E402

LIMITS = "docs/demo/kittiwake.xml"
# Beside what a unit takes, a run opens the bench, listens for late bytes, and ends.
FEW = 2
MOST_MS = 20
LEAST_SHARE = 0.95
BAUD = 115200
POINTS = 401
# Limits that judge other parameters than S11 and S21, which would be read too.
OTHERS = ("output-reflection", "reverse-isolation", "stability")
BENCH = b.BENCH.replace('points="41"', 'points="%d"' % POINTS).replace(
    'ramp-interval="1 ms" settling="2 ms"', 'ramp-interval="0 s" settling="0 s"')


def write_limits(path):
    words = pathlib.Path(LIMITS).read_text()
    for name in OTHERS:
        words = re.sub(r"<%s .*?</%s>" % (name, name), "", words, flags=re.DOTALL)
    pathlib.Path(path).write_text(words)


class Measured(b.Batch):
    """A batch of the demo's boards whose tests wait for nothing."""

    def __init__(self, folder, ports):
        super().__init__(folder, ports)
        write_limits(self.limits)
        words = BENCH.format(profiles=os.path.abspath("docs/profiles"), ramp_step="3.2 V", **ports)
        pathlib.Path(self.bench).write_text(words)


class Stamps:
    """When each line of a run came, told by its own thread."""

    def __init__(self, batch, n):
        self.process = subprocess.Popen(batch.command(), stdin=subprocess.PIPE, text=True,
                                        stdout=subprocess.PIPE)
        self.process.stdin.write("".join("KW%06d\n" % (101 + k) for k in range(n)))
        self.process.stdin.close()
        self.verdicts_s = []
        for line in self.process.stdout:
            if b.VERDICT.match(line.rstrip()):
                self.verdicts_s.append(time.monotonic())
        self.process.stdout.close()
        # wait4() tells of this child alone; what it has waited for is in it too.
        _, status, usage = os.wait4(self.process.pid, 0)
        self.process.returncode = os.waitstatus_to_exitcode(status)
        b.demand(self.process.returncode in (0, 1) and len(self.verdicts_s) == n,
                 "run ends with %d" % self.process.returncode)
        self.cpu_s = usage.ru_utime + usage.ru_stime


def cpu_of(pid):
    """Seconds of processor time so far."""
    return int(pathlib.Path("/proc/%d/schedstat" % pid).read_text().split()[0]) / 1e9


def over_tcp(top, n):
    """Milliseconds for a unit: processor time of run, wall time, the emulated bench's own."""
    emulator = b.Emulator()
    try:
        few = Stamps(Measured(os.path.join(top, "few"), emulator.ports), FEW)
        before_s = cpu_of(emulator.process.pid)
        many = Stamps(Measured(os.path.join(top, "many"), emulator.ports), FEW + n)
        # The opening is in both, so that what is left is the units.
        emulated_s = cpu_of(emulator.process.pid) - before_s
        wall_s = (many.verdicts_s[-1] - many.verdicts_s[FEW - 1]) / n
        return (1e3 * (many.cpu_s - few.cpu_s) / n, 1e3 * wall_s, 1e3 * emulated_s / (FEW + n))
    finally:
        emulator.close()


def best_over_tcp(where, n, words):
    """The least of three wall times: others use the machine too."""
    measured = []
    for _ in range(3):
        with tempfile.TemporaryDirectory(prefix="gainsieve-bench-", dir=where) as top:
            measured.append(over_tcp(top, n))
    cpu_ms, wall_ms, emulated_ms = min(measured, key=lambda one: one[1] - one[2])
    print("run, %s: %.1f ms of processor time for a unit; wall %.1f ms, %.1f ms of them the emulated "
          "bench's own, %.1f ms on top" % (words, cpu_ms, wall_ms, emulated_ms, wall_ms - emulated_ms),
          flush=True)
    return wall_ms - emulated_ms


# ---- a slow line ----

class Line:
    """A pseudo-terminal between run and the emulated analyser, which notes what passes and when."""

    def __init__(self, port):
        self.near, self.other = os.openpty()
        tty.setraw(self.other)
        self.far = os.open(port.removeprefix("serial:"), os.O_RDWR | os.O_NOCTTY)
        self.port = "serial:" + os.ttyname(self.other)
        self.passed = []  # (time, "<" from the analyser, bytes)
        for args in ((self.near, self.far, ">"), (self.far, self.near, "<")):
            threading.Thread(target=self.move, args=args, daemon=True).start()

    def move(self, source, sink, way):
        try:
            while data := os.read(source, 4096):
                self.passed.append((time.monotonic(), way, data))
                os.write(sink, data)
        except OSError:
            pass  # closed

    def shares(self):
        """For each sweep: bytes of its traces times ten bits over the line's speed, by the time from
        the first byte of the first to the last byte of the last. The bytes of the questions between
        them count as rest."""
        found, first, last, n = [], None, None, 0
        sent, in_traces = b"", False
        for at_s, way, data in sorted(self.passed, key=lambda one: one[0]):
            if way == ">":
                sent = (sent + data)[-80:]
                if b"*OPC?" in data:  # the sweep; its traces follow
                    in_traces, first, n = False, None, 0
                elif data.startswith(b"SENS:FUNC"):
                    in_traces = True
                elif in_traces and not data.startswith(b"CALC:DATA?"):
                    found.append((10 * n / BAUD) / (last - first))
                    in_traces = False
            elif in_traces:
                # The first lump was on the line before it came out of it.
                first = at_s - 10 * len(data) / BAUD if first is None else first
                last, n = at_s, n + len(data)
        return found

    def share_of_unit(self, from_s, to_s):
        """The same for all that the analyser says in a unit: ramps and verdict count as rest."""
        n = sum(len(data) for at_s, way, data in self.passed
                if way == "<" and from_s < at_s <= to_s)
        return (10 * n / BAUD) / (to_s - from_s)

    def close(self):
        for descriptor in (self.near, self.other, self.far):
            os.close(descriptor)


def over_pty(top):
    emulator = b.Emulator("--baud", str(BAUD), listen="pty")
    line = Line(emulator.ports["analyser"])
    try:
        ports = dict(emulator.ports, analyser=line.port)
        verdicts_s = Stamps(Measured(os.path.join(top, "pty"), ports), FEW).verdicts_s
        shares = line.shares()
        unit = line.share_of_unit(verdicts_s[-2], verdicts_s[-1])
    finally:
        line.close()
        emulator.close()
    b.demand(len(shares) == 5 * FEW, "%d sweeps came over the line" % len(shares))
    print("run, pty of %d baud: data move in %.1f %% of the time of a sweep's traces, the least of %d "
          "sweeps %.1f %%; in %.1f %% of all the time of a unit" %
          (BAUD, 100 * statistics.median(shares), len(shares), 100 * min(shares), 100 * unit))
    return statistics.median(shares)


def main():
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    fails = []
    if os.path.isdir("/dev/shm"):
        on_top_ms = best_over_tcp("/dev/shm", n, "TCP, in memory (no flush)")
        if on_top_ms >= MOST_MS:
            fails.append("%.1f ms on top for a unit, not below %d ms" % (on_top_ms, MOST_MS))
    else:
        print("run without flush is not measured: there is no /dev/shm")
    best_over_tcp(os.environ.get("TMPDIR", "/tmp"), n, "TCP, on disk (with flush)")
    with tempfile.TemporaryDirectory(prefix="gainsieve-bench-") as top:
        share = over_pty(top)
        if share <= LEAST_SHARE:
            fails.append("data move in %.1f %% of the time, not above %g %%" %
                         (100 * share, 100 * LEAST_SHARE))
    for words in fails:
        print("bench: %s" % words)
    return 1 if fails else 0


if __name__ == "__main__":
    sys.exit(main())
