"""Lets the disk fail under `gainsieve run`, everywhere it is written to, and proves: a reason on
standard error and status 5, no verdict shown that is not in the record, bias and RF off; and with
the disk mended the same command goes on, with a clean audit.

Usage: storage.py [STRIDE]: each call that writes or syncs, or each STRIDEth only. A disk that is
full or read-only takes root and a tmpfs, failing calls take strace; what is missing is told."""
import os
import re
import shutil
import subprocess
import sys
import tempfile
import threading

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import bench as b  # noqa: E402

# They wait most of the time: the opening of a bench listens for what may still come.
WORKERS = 6
# What a file system is asked for, and how it says no. A rename or a new name may meet a full disk.
CALLS = {"fsync": "EIO", "fdatasync": "EIO", "write": "ENOSPC", "pwrite64": "ENOSPC",
         "rename": "EIO", "ftruncate": "EIO", "mkdir": "ENOSPC", "openat": "ENOSPC",
         "fallocate": "ENOSPC", "unlink": "EIO"}
BOARDS = ["KW000101", "KW000102"]
# Kilobytes of a small disk, from "not even the record" to "nearly all of it".
DISKS_KB = list(range(40, 400, 24))


class Bench:
    """One emulated bench with its relay; a folder below `top`."""

    def __init__(self, top, name):
        self.emulator = b.Emulator()
        self.relay = b.Relay(self.emulator.ports)
        self.folder = os.path.join(top, name)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.relay.close()
        self.emulator.close()
        shutil.rmtree(self.folder, ignore_errors=True)


def demand_told(status, run, words):
    """Status 5 and a reason; or the run was not stopped by it, and showed all verdicts."""
    b.demand(status in (0, 1, 5), "%s: run ends with %d: %s" % (words, status, run.errors))
    if status != 5:
        b.demand(len(run.shown()) == len(BOARDS), "%s: ends with %d after %s" %
                 (words, status, run.shown()))
        return
    told = [line for line in run.errors if line.startswith("gainsieve: ")]
    b.demand(told and all(len(line) > 30 for line in told), "%s: no reason: %s" % (words, run.errors))


def demand_goes_on(batch, relay, words):
    """With the disk mended: the record as it was shown, and a board more."""
    b.demand(relay.is_off(), "%s: bias or RF is on" % words)
    status, run = b.run_whole(batch, ["KW000109"])
    b.demand(status in (0, 1), "%s: afterwards run ends with %d: %s" % (words, status, run.errors))
    batch.demand_record(run.shown())
    b.demand(batch.known[-1][0] == "KW000109", "%s: the next board is not recorded" % words)


# ---- calls that fail ----

def strace(log, *options):
    return ["strace", "-qq", "-y", "-o", log, "-e", "signal=none", *options]


def list_calls(top):
    """(call, n) of every nth call of a whole run that goes to the batch's folder."""
    with Bench(top, "all") as bench:
        batch = b.Batch(bench.folder, bench.relay.ports)
        log = os.path.join(bench.folder, "log")
        status, run = b.run_whole(batch, BOARDS, strace(log, "-e", "trace=" + ",".join(CALLS)))
        b.demand(status in (0, 1), "run under strace ends with %d: %s" % (status, run.errors))
        counted, found = {}, []
        with open(log) as lines:
            for line in lines:
                match = re.match(r"(\w+)\(", line)
                if not match:
                    continue
                call = match[1]
                counted[call] = counted.get(call, 0) + 1
                # Reading is not what this is about: only what is opened to be written.
                if batch.path in line and (call != "openat" or "O_CREAT" in line):
                    found.append((call, counted[call]))
        return found


def fail_at(top, call, n, statuses):
    words = "%s number %d fails" % (call, n)
    with Bench(top, "%s%d" % (call, n)) as bench:
        batch = b.Batch(bench.folder, bench.relay.ports)
        log = os.path.join(bench.folder, "log")
        status, run = b.run_whole(
            batch, BOARDS, strace(log, "-e", "trace=" + call, "-e",
                                  "inject=%s:error=%s:when=%d" % (call, CALLS[call], n)))
        with open(log) as lines:
            injected = [line for line in lines if "(INJECTED)" in line]
        # The order of calls is the same in each run but for waits; what was hit is in the words.
        words += ": " + (injected[0].strip() if injected else "not reached")
        if injected and batch.path not in injected[0]:
            return
        demand_told(status, run, words)
        shown = run.shown()
        if batch.is_begun():
            try:
                batch.demand_record(shown)
            except b.Failure as failure:
                raise b.Failure("%s: %s" % (words, failure)) from None
        else:
            b.demand(not shown, "%s: shown without a record: %s" % (words, shown))
        demand_goes_on(batch, bench.relay, words)
        statuses.append(status)


def fail_everywhere(top, stride):
    every = list_calls(top)
    # Of each kind the first at least: the rare ones are those of a batch's beginning.
    calls = [one for call in CALLS for one in [c for c in every if c[0] == call][::stride]]
    todo = iter(calls)
    lock = threading.Lock()
    failures, statuses = [], []

    def work():
        while True:
            with lock:
                one = next(todo, None)
            if not one:
                return
            try:
                fail_at(top, *one, statuses)
            except Exception as failure:  # of any kind: it is told, and the others go on
                failures.append(failure if isinstance(failure, b.Failure) else repr(failure))

    workers = [threading.Thread(target=work) for _ in range(WORKERS)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    kinds = {call: sum(one == call for one, _ in calls) for call in CALLS}
    print("storage: %d failing calls (%s), %d of them ended the run" % (
        len(calls), ", ".join("%d %s" % (n, call) for call, n in kinds.items() if n),
        statuses.count(5)), flush=True)
    b.demand(failures or statuses.count(5) > len(calls) / 3, "too few calls ended the run")
    return failures


# ---- small and read-only disks ----

def mount(*arguments):
    return subprocess.run(["mount", *arguments], capture_output=True).returncode == 0


def fill_disk(top, size_kb):
    words = "a disk of %d KB" % size_kb
    with Bench(top, "disk") as bench:
        disk = os.path.join(top, "small")
        os.makedirs(disk, exist_ok=True)
        b.demand(mount("-t", "tmpfs", "-o", "size=%dk" % size_kb, "none", disk), "no tmpfs")
        try:
            batch = b.Batch(bench.folder, bench.relay.ports)
            batch.path = os.path.join(disk, "batch")
            status, run = b.run_whole(batch, BOARDS)
            demand_told(status, run, words)
            b.demand(status == 5 or size_kb > 200, "%s: status %d" % (words, status))
            mount("-o", "remount,size=8m", disk)
            shown = run.shown()
            if batch.is_begun():
                batch.demand_record(shown)
            demand_goes_on(batch, bench.relay, words)
            return status == 5, len(shown)
        finally:
            subprocess.run(["umount", disk], check=False)


def read_only(top):
    """A batch that is there and one that is not, on a disk that takes nothing."""
    with Bench(top, "read-only") as bench:
        disk = os.path.join(top, "shut")
        os.makedirs(disk, exist_ok=True)
        b.demand(mount("-t", "tmpfs", "-o", "size=8m", "none", disk), "no tmpfs")
        try:
            for name, begun in (("begun", True), ("new", False)):
                batch = b.Batch(bench.folder + name, bench.relay.ports)
                batch.path = os.path.join(disk, name)
                if begun:
                    status, run = b.run_whole(batch, BOARDS)
                    batch.demand_record(run.shown())
                mount("-o", "remount,ro", disk)
                status, run = b.run_whole(batch, ["KW000103"])
                words = "a read-only disk, %s batch" % name
                b.demand(status == 5 and not run.shown(), "%s: status %d, %s" %
                         (words, status, run.errors))
                demand_told(status, run, words)
                if begun:
                    batch.audit()
                mount("-o", "remount,rw", disk)
                demand_goes_on(batch, bench.relay, words)
                shutil.rmtree(bench.folder + name)
        finally:
            subprocess.run(["umount", disk], check=False)


def disks(top):
    probe = os.path.join(top, "probe")
    os.makedirs(probe)
    if os.getuid() != 0 or not mount("-t", "tmpfs", "-o", "size=64k", "none", probe):
        print("storage: full and read-only disks are not tried: they take root and a tmpfs")
        return []
    subprocess.run(["umount", probe], check=False)
    failures, n_full, n_shown = [], 0, 0
    for size_kb in DISKS_KB:
        try:
            full, shown = fill_disk(top, size_kb)
            n_full += full
            n_shown += shown
        except b.Failure as failure:
            failures.append(failure)
    try:
        read_only(top)
    except b.Failure as failure:
        failures.append(failure)
    print("storage: %d small disks, %d of them filled up, %d verdicts shown; a read-only disk" %
          (len(DISKS_KB), n_full, n_shown), flush=True)
    return failures


def main():
    stride = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    with tempfile.TemporaryDirectory(prefix="gainsieve-storage-") as top:
        failures = disks(top)
        if shutil.which("strace"):
            failures += fail_everywhere(top, stride)
        else:
            print("storage: failing calls are not tried: there is no strace")
    for failure in failures:
        print("storage: FAILED: %s" % failure)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
