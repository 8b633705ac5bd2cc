"""What the fault tests share: an emulated bench, `gainsieve run` over it, and what a batch holds.

Python 3 with its standard library only. GAINSIEVE names the program; runs from the top of the tree."""
import contextlib
import os
import re
import signal
import socket
import sqlite3
import subprocess
import threading
import time

PROGRAM = os.environ.get("GAINSIEVE", "build/gainsieve")
VERDICT = re.compile(r"^(\S+) attempt (\d+): (PASS|FAIL|INCOMPLETE)$")
POWERED = ": POWERED"
# What the program may take for anything it does; far more than it does take.
PATIENCE_S = 30
# From the death of the main process to the last off command in the supply.
OFF_S = 1.0

# Two bias steps and few points: many tests in little time. The levels are the demo's.
LIMITS = """<limits xmlns="urn:gainsieve:limits:1" product="Fault test" impedance="50 ohm">
  <bias-steps tolerance="10 mV"><bias id="low" at="1.8 V"/><bias id="high" at="3 V"/></bias-steps>
  <bands><band id="working" from="160 MHz" to="178 MHz" max-step="2 MHz"/></bands>
  <gain id="gain" bias="high" band="working" min="20.6 dB" max="26 dB"/>
</limits>
"""
BENCH = """<bench xmlns="urn:gainsieve:bench:1" label="Fault test">
  <analyser profile="{profiles}/analyser.xml" port="{analyser}"/>
  <supply profile="{profiles}/supply.xml" port="{supply}"/>
  <fixture port="{fixture}"/>
  <sweep from="150 MHz" to="190 MHz" points="41" if-bandwidth="10 kHz" power="-30 dBm" setup="1"/>
  <levels pad="20 dB" pad-rating="30 dBm" saturated-output="20 dBm"/>
  <bias current-limit="15 mA" voltage-trip="3.6 V" most="3.2 V" ramp-step="{ramp_step}"
        ramp-interval="1 ms" settling="2 ms" tolerance="20 mV" off-below="0.5 V" longest="60 s"/>
  <correction required="yes"/>
  <attempts most="9999"/>
  <streak stop-after="0"/>
</bench>
"""


class Failure(Exception):
    """What was to be proven does not hold."""


def demand(holds, words):
    if not holds:
        raise Failure(words)


def address(port):
    host, number = port.removeprefix("tcp:").rsplit(":", 1)
    return host, int(number)


class Emulator:
    """`gainsieve emulate --listen`: its ports by instrument's name."""

    def __init__(self, *options, listen="tcp:127.0.0.1:0"):
        self.process = subprocess.Popen([PROGRAM, "emulate", "--listen", listen, *options],
                                        stdout=subprocess.PIPE, text=True)
        self.ports = dict(self.process.stdout.readline().split() for _ in range(3))

    def close(self):
        self.process.terminate()
        self.process.wait(PATIENCE_S)
        self.process.stdout.close()


class Relay:
    """Stands between `run` and an emulated bench. The fixture takes one controller at a time, and is
    asked from here too. `passing(name, line)` is called before a whole message of the analyser's or
    the supply's controller is handed on; only then do they go through here."""

    def __init__(self, ports, passing=None):
        self.passing = passing
        self.lock = threading.Lock()
        self.fixture = socket.create_connection(address(ports["fixture"]))
        self.fixture_lines = self.fixture.makefile("r")
        self.listeners = []
        self.ports = dict(ports)
        self.ports["fixture"] = self.listen(self.serve_fixture)
        if passing:
            for name in ("analyser", "supply"):
                self.ports[name] = self.listen(
                    lambda near, name=name: self.serve(name, address(ports[name]), near))

    def listen(self, serve):
        listener = socket.create_server(("127.0.0.1", 0))
        self.listeners.append(listener)

        def accept():
            with contextlib.suppress(OSError):
                while True:
                    near, _ = listener.accept()
                    threading.Thread(target=serve, args=(near,), daemon=True).start()

        threading.Thread(target=accept, daemon=True).start()
        return "tcp:127.0.0.1:%d" % listener.getsockname()[1]

    def ask(self, line):
        """One message to the fixture, and its answer if it is a question."""
        with self.lock:
            self.fixture.sendall(line.encode() + b"\n")
            return self.fixture_lines.readline().strip() if "?" in line else ""

    def serve_fixture(self, near):
        with contextlib.suppress(OSError), near, near.makefile("r") as lines:
            for line in lines:
                answer = self.ask(line.strip())
                if answer:
                    near.sendall(answer.encode() + b"\n")

    def serve(self, name, far_address, near):
        far = socket.create_connection(far_address)
        for one in (near, far):
            one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

        def back():
            with contextlib.suppress(OSError):
                while data := far.recv(65536):
                    near.sendall(data)
            with contextlib.suppress(OSError):
                near.shutdown(socket.SHUT_RDWR)

        threading.Thread(target=back, daemon=True).start()
        with contextlib.suppress(OSError), near, near.makefile("rb") as lines:
            for line in lines:
                self.passing(name, line)
                far.sendall(line)
        with contextlib.suppress(OSError):
            far.shutdown(socket.SHUT_RDWR)
        far.close()

    def is_off(self):
        """Whether output and RF are off; the fixture knows, past the instruments' own links."""
        output, _, _, rf, _ = self.ask("FIXT:STAT?").split(",")
        return int(output) == 0 and int(rf) == 0

    def demand_off(self, within_s, words):
        """Fails unless both are off in time."""
        end = time.monotonic() + within_s
        while not self.is_off():
            demand(time.monotonic() < end, "%s: bias or RF is still on after %g s" % (words, within_s))
            time.sleep(0.005)

    def close(self):
        for listener in self.listeners:
            # Closing alone does not wake who waits in accept().
            with contextlib.suppress(OSError):
                listener.shutdown(socket.SHUT_RDWR)
            listener.close()
        self.fixture_lines.close()
        self.fixture.close()


class Batch:
    """A folder with limits, bench file and batch, and what is known to be in its record."""

    def __init__(self, folder, ports, ramp_step="0.5 V"):
        os.makedirs(folder)
        self.limits = os.path.join(folder, "limits.xml")
        self.bench = os.path.join(folder, "bench.xml")
        self.path = os.path.join(folder, "batch")
        self.known = []
        with open(self.limits, "w") as f:
            f.write(LIMITS)
        with open(self.bench, "w") as f:
            f.write(BENCH.format(profiles=os.path.abspath("docs/profiles"), ramp_step=ramp_step,
                                 **ports))

    def command(self):
        return [PROGRAM, "run", "--limits", self.limits, "--bench", self.bench, "--batch", self.path]

    def is_begun(self):
        return os.path.exists(os.path.join(self.path, "batch.sqlite"))

    def recorded(self):
        """(serial, attempt, verdict) in the record's order, read past the program."""
        with contextlib.closing(sqlite3.connect("file:%s/batch.sqlite?mode=ro" % self.path,
                                                uri=True)) as db:
            # Killed before the tables were made: the audit says whether that can be so.
            if db.execute("SELECT count(*) FROM sqlite_schema").fetchone() == (0,):
                return []
            return db.execute("SELECT serial, attempt, verdict FROM unit ORDER BY n").fetchall()

    def audit(self):
        done = subprocess.run([PROGRAM, "audit", "--batch", self.path], text=True,
                              capture_output=True, timeout=PATIENCE_S)
        demand(done.returncode == 0, "audit ends with %d: %s" % (done.returncode,
                                                                 done.stdout + done.stderr))

    def judge_anew(self):
        """The sweeps of the record give its verdicts again."""
        done = subprocess.run([PROGRAM, "check", "--batch", self.path], text=True,
                              capture_output=True, timeout=PATIENCE_S)
        demand(done.returncode in (0, 1), "check ends with %d: %s" % (done.returncode, done.stderr))

    def demand_record(self, shown):
        """Everything that one process showed, and at most one verdict more, is in the record, each
        once, numbered from 1; what was there before is there still. Then the audit."""
        if not self.is_begun():
            demand(not shown and not self.known, "a record is gone")
            return
        self.audit()
        recorded = self.recorded()
        demand(recorded[:len(self.known)] == self.known, "an earlier verdict is gone or another")
        new = recorded[len(self.known):]
        demand(new[:len(shown)] == shown, "shown %s, but recorded %s" % (shown, new))
        demand(len(new) <= len(shown) + 1, "%s were recorded and not shown" % new[len(shown):])
        n_attempts = {}
        for serial, attempt, _ in recorded:
            n_attempts[serial] = n_attempts.get(serial, 0) + 1
            demand(attempt == n_attempts[serial], "attempt %d of %s is the %dth row" %
                   (attempt, serial, n_attempts[serial]))
        self.known = recorded


class Run:
    """`gainsieve run` with lines on standard input; its lines are collected while it runs."""

    def __init__(self, batch, lines, before=()):
        self.process = subprocess.Popen([*before, *batch.command()], stdin=subprocess.PIPE,
                                        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.lines, self.errors = [], []
        self.heard = threading.Condition()
        self.readers = [threading.Thread(target=self.read, args=pair, daemon=True) for pair in
                        ((self.process.stdout, self.lines), (self.process.stderr, self.errors))]
        for reader in self.readers:
            reader.start()
        # A process that is gone early does not read its input.
        with contextlib.suppress(BrokenPipeError):
            self.process.stdin.write("".join(line + "\n" for line in lines))
            self.process.stdin.close()

    def read(self, stream, into):
        for line in stream:
            with self.heard:
                into.append(line.rstrip("\n"))
                self.heard.notify_all()

    def wait_for(self, words, n):
        """Until the nth line with these words came. Says false when the process ended before."""
        end = time.monotonic() + PATIENCE_S
        with self.heard:
            while sum(words in line for line in self.lines) < n:
                if self.process.poll() is not None:
                    return False
                demand(time.monotonic() < end, "no %dth line with \"%s\"" % (n, words))
                self.heard.wait(0.02)
        return True

    def kill(self):
        """The main process only: its guardian must live on."""
        os.kill(self.process.pid, signal.SIGKILL)

    def end(self):
        """Waits for it and its guardian, which holds the pipes too. Gives the exit status."""
        try:
            status = self.process.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            self.kill()
            raise Failure("run did not end") from None
        for reader in self.readers:
            reader.join(PATIENCE_S)
            demand(not reader.is_alive(), "the guardian does not end")
        self.process.stdout.close()
        self.process.stderr.close()
        return status

    def shown(self):
        """(serial, attempt, verdict) as they stood on standard output."""
        found = (VERDICT.match(line) for line in self.lines)
        return [(m[1], int(m[2]), m[3]) for m in found if m]


def run_whole(batch, lines, before=()):
    run = Run(batch, lines, before)
    return run.end(), run
