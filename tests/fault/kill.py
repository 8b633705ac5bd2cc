"""Kills `gainsieve run` with SIGKILL and proves that the bench goes off and nothing is lost.

Usage: kill.py [N [SEED]]. First a walk: a test is killed at each message that it sends to analyser
or supply, from the first of the opening to the last before the verdict; with N of 100 and more of
a second one, too, with N below 25 at each fifth only. Then N kills at random moments (25). After each: output and RF off within a second, every verdict that was shown in the
record, none twice, attempts numbered from 1, audit clean, and the same command goes on."""
import os
import random
import shutil
import sys
import tempfile
import threading
import time

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import bench as b  # noqa: E402

# They wait most of the time: the opening of a bench listens for what may still come.
WORKERS = 8
# Then a new batch: an audit reads all of it.
KILLS_PER_BATCH = 20
# Of the kills, those at any moment from the start on; the others fall into a test.
EARLY = 0.2
EARLY_S = 2.0
# A test takes about 30 ms here; later is during the tests behind it.
WITHIN_TEST_S = 0.06


class Counts:
    def __init__(self):
        self.lock = threading.Lock()
        self.kills = self.powered = self.shown = self.unshown = 0

    def add(self, powered, shown, new):
        with self.lock:
            self.kills += 1
            self.powered += powered
            self.shown += shown
            self.unshown += new - shown

    def words(self):
        return "%d kills, %d of them with bias or RF on; %d verdicts shown, %d stored and not " \
               "shown" % (self.kills, self.powered, self.shown, self.unshown)


def look(batch, run, was_on, counts):
    """What must hold when the killed one and its guardian are gone."""
    n_before = len(batch.known)
    shown = run.shown()
    batch.demand_record(shown)
    counts.add(was_on, len(shown), len(batch.known) - n_before)


def goes_on(batch, serial):
    """Another board is tested to its end, whatever was interrupted before."""
    n_before = len(batch.known)
    status, run = b.run_whole(batch, [serial])
    b.demand(status in (0, 1) and len(run.shown()) == 1,
             "after a kill run ends with %d: %s" % (status, run.errors))
    batch.demand_record(run.shown())
    b.demand(len(batch.known) == n_before + 1, "the board after a kill is not in the record")


# ---- at each message ----

class Tripwire:
    """Kills at the kth message, before it is handed on."""

    def __init__(self, k):
        self.k, self.n, self.run, self.relay = k, 0, None, None
        self.hit, self.was_on = None, False
        self.lock = threading.Lock()
        self.armed = threading.Event()

    def passing(self, name, line):
        self.armed.wait()
        with self.lock:
            self.n += 1
            if self.n == self.k:
                self.was_on = not self.relay.is_off()
                self.run.kill()
                self.hit = "%s > %s" % (name, line.decode(errors="replace").strip())


def kill_at(folder, k, n_boards, counts):
    """Kills at the kth message. Says false when there are not so many."""
    emulator = b.Emulator()
    wire = Tripwire(k)
    relay = wire.relay = b.Relay(emulator.ports, wire.passing)
    try:
        batch = b.Batch(folder, relay.ports, "3.2 V")
        wire.run = b.Run(batch, ["KW%06d" % (101 + i) for i in range(n_boards)])
        wire.armed.set()
        status = wire.run.process.wait(b.PATIENCE_S)
        if wire.hit:
            relay.demand_off(b.OFF_S, "killed")
            wire.run.end()
            # Nothing that was under way may switch it on again.
            b.demand(relay.is_off(), "bias or RF is on again")
            look(batch, wire.run, wire.was_on, counts)
            if k % 10 == 0:
                wire.k = 0
                goes_on(batch, "KW000109")
        else:
            b.demand(status in (0, 1), "run ends with %d" % status)
            wire.run.end()
        return wire.hit is not None
    except b.Failure as failure:
        raise b.Failure("message %d, %s: %s" % (k, wire.hit, failure)) from None
    finally:
        relay.close()
        emulator.close()
        shutil.rmtree(folder, ignore_errors=True)


def walk(top, first, stride, n_boards, counts, stop):
    k = first
    while not stop.is_set() and kill_at(os.path.join(top, "walk%d" % k), k, n_boards,
                                          counts):
        k += stride


# ---- at random moments ----

def serials(random_source, first):
    """More than can be tested before the kill: new boards, some of them twice."""
    for number in range(first, first + 40):
        yield "KW%06d" % number
        if random_source.random() < 0.3:
            yield "/retest"


def kill_some_time(batch, relay, random_source, counts):
    # The board that was interrupted comes again, and the last that was tested.
    first = 101 + max(0, len({serial for serial, _, _ in batch.known}) - 1)
    run = b.Run(batch, serials(random_source, first))
    if random_source.random() < EARLY:
        time.sleep(random_source.uniform(0, EARLY_S))
    else:
        b.demand(run.wait_for(b.POWERED, random_source.randint(1, 4)),
                 "run ended by itself: %s" % run.errors)
        time.sleep(random_source.uniform(0, WITHIN_TEST_S))
    was_on = not relay.is_off()
    run.kill()
    relay.demand_off(b.OFF_S, "killed")
    run.end()
    b.demand(relay.is_off(), "on again after the guardian's end")
    look(batch, run, was_on, counts)


def kill_at_random(top, number, seed, n, counts, stop):
    """A worker: its kills follow from the seed, though what they hit does not."""
    random_source = random.Random("%d.%d" % (seed, number))
    emulator = b.Emulator("--seed", str(seed % 1000))
    relay = b.Relay(emulator.ports)
    batch = None
    try:
        for k in range(n):
            if stop.is_set():
                return
            if not batch:
                folder = os.path.join(top, "batch%d" % number)
                batch = b.Batch(folder, relay.ports)
            kill_some_time(batch, relay, random_source, counts)
            if (k + 1) % KILLS_PER_BATCH == 0 or k + 1 == n:
                goes_on(batch, "KW009999")
                batch.judge_anew()
                shutil.rmtree(folder)
                batch = None
    finally:
        relay.close()
        emulator.close()


# ---- all of them ----

def together(what, argument_lists):
    """Runs workers until they end or one fails, and shows how far they are."""
    counts, stop, failures = Counts(), threading.Event(), []

    def work(arguments):
        try:
            what(*arguments, counts, stop)
        except Exception as failure:  # of any kind: it ends the test
            failures.append(failure if isinstance(failure, b.Failure) else repr(failure))
            stop.set()

    workers = [threading.Thread(target=work, args=(arguments,)) for arguments in argument_lists]
    for worker in workers:
        worker.start()
    said = time.monotonic()
    for worker in workers:
        while worker.is_alive():
            worker.join(0.5)
            if time.monotonic() - said > 20:
                said = time.monotonic()
                print("kill: %s so far" % counts.words(), flush=True)
    for failure in failures:
        print("kill: FAILED: %s" % failure)
    return counts, not failures


def main():
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 25
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else random.SystemRandom().randrange(10**6)
    # The second board's messages are the first's; what may differ is what the first has left.
    n_boards = 1 if n < 100 else 2
    every = 5 if n < 25 else 1
    with tempfile.TemporaryDirectory(prefix="gainsieve-kill-") as top:
        counts, ok = together(walk, [(top, 1 + seed % every + every * number, every * WORKERS, n_boards)
                                    for number in range(WORKERS)])
        print("kill: at %s message: %s" % ("each" if every == 1 else "each %dth" % every,
                                           counts.words()), flush=True)
        # Less would mean that the messages did not come through the relay.
        if ok and (counts.kills * every < 100 or counts.powered * every < 30):
            print("kill: FAILED: the walk is too short to prove anything")
            ok = False
        if ok:
            share = [n // WORKERS + (number < n % WORKERS) for number in range(WORKERS)]
            counts, ok = together(kill_at_random, [(top, number, seed, share[number])
                                                   for number in range(WORKERS)])
            print("kill: at random moments: %s (seed %d)" % (counts.words(), seed))
    return 0 if ok else 1


sys.exit(main())
