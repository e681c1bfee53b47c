# SPDX-License-Identifier: MIT
"""A fleet's worth of invented sessions through the gate, by many processes.

speed-fleet.py PROGRAM GENERATE DIRECTORY SESSIONS

Makes the sessions once and keeps them. Prints how many a second are judged by one and several
processes, as the tasks of an array (each is told its number as Slurm does) and by GNU parallel;
how long it takes when nothing changed; and what is left to do after one task was killed in the
middle. Fails when the parts put together are not what one process says of the whole."""
import concurrent.futures
import glob
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import threading
import time

PROGRAM, GENERATE, DIRECTORY, COUNT = *sys.argv[1:4], int(sys.argv[4])
FLEET = os.path.join(DIRECTORY, f"fleet-{COUNT}")
TASK = 'exec "$0" gate --jobs 1 --shard "$SLURM_ARRAY_TASK_ID/$TASKS" --results ' \
       '"$RESULTS/$SLURM_ARRAY_TASK_ID.jsonl" "$FLEET"'
CORES = os.cpu_count()


def make(number):
    path = os.path.join(FLEET, f"car-{number:05}")
    os.makedirs(path)
    kind = KINDS[number % len(KINDS)]
    subprocess.run([GENERATE, "--small", "--situation", kind, "--seed", str(number), "--out", path],
                   check=True, stdout=subprocess.DEVNULL)
    subprocess.run([PROGRAM, "gate", "--update", path, "--yes"], check=True,
                   stdout=subprocess.DEVNULL)


def task(number, tasks, results):
    """One of the array, which Slurm would start on any machine."""
    return subprocess.Popen(["sh", "-c", TASK, PROGRAM], stdout=subprocess.DEVNULL,
                            env={**os.environ, "SLURM_ARRAY_TASK_ID": str(number), "FLEET": FLEET,
                                 "TASKS": str(tasks), "RESULTS": results})


def array(tasks, results, at_once):
    with concurrent.futures.ThreadPoolExecutor(at_once) as pool:
        return list(pool.map(lambda n: task(n, tasks, results).wait(), range(1, tasks + 1)))


def parallel(tasks, results, at_once):
    subprocess.run(["parallel", "--jobs", str(at_once), PROGRAM, "gate", "--jobs", "1", "--shard",
                    f"{{}}/{tasks}", "--results", f"{results}/{{}}.jsonl", FLEET, ":::",
                    *map(str, range(1, tasks + 1))], stdout=subprocess.DEVNULL)


def merged(results):
    done = subprocess.run([PROGRAM, "gate", "--merge", *glob.glob(f"{results}/*.jsonl")],
                          capture_output=True, text=True)
    return done.stdout + done.stderr


def processor():
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def timed(name, run, *arguments):
    before, used = time.monotonic(), processor()
    run(*arguments)
    seconds = time.monotonic() - before
    print(f"{name:<40}{seconds:>8.1f} s{COUNT / seconds:>9,.0f} sessions/s"
          f"{(processor() - used) / COUNT * 1e3:>8.2f} ms of processor each", flush=True)


def killed(results, tasks=16):
    """The array, one of whose tasks is killed when it has half of its sessions."""
    first = os.path.join(results, "1.jsonl")
    victim = task(1, tasks, results)

    def kill():
        while victim.poll() is None:
            if os.path.exists(first) and len(open(first).readlines()) > COUNT / tasks / 2:
                victim.kill()
    thread = threading.Thread(target=kill)
    thread.start()
    victim.wait()
    thread.join()
    with concurrent.futures.ThreadPoolExecutor(CORES) as pool:
        list(pool.map(lambda n: task(n, tasks, results).wait(), range(2, tasks + 1)))
    print("killed in the middle:", merged(results).strip())


KINDS = subprocess.run([GENERATE, "--list"], capture_output=True, text=True,
                       check=True).stdout.splitlines()
KINDS = [line.split()[0] for line in KINDS]
if not os.path.exists(FLEET + "/made"):
    shutil.rmtree(FLEET, ignore_errors=True)
    with concurrent.futures.ThreadPoolExecutor(CORES) as workers:
        list(workers.map(make, range(COUNT)))
    open(FLEET + "/made", "w").close()
whole = subprocess.run([PROGRAM, "gate", FLEET], capture_output=True, text=True).stdout
print(whole.strip().splitlines()[-1], f"{CORES} processors.")

for workers in (1, 2, 4, 8):
    with tempfile.TemporaryDirectory() as folder:
        timed(f"array of {workers}, all at once", array, workers, folder, workers)
        assert merged(folder) == whole
with tempfile.TemporaryDirectory() as folder:
    timed(f"array of 16, {CORES} at once", array, 16, folder, CORES)
    timed("the same again, nothing changed", array, 16, folder, CORES)
    assert merged(folder) == whole
with tempfile.TemporaryDirectory() as folder:
    killed(folder)
    assert "shard 1 of 16 was not finished" in merged(folder)
    timed("run again after that", array, 16, folder, CORES)
    assert merged(folder) == whole
if shutil.which("parallel"):
    with tempfile.TemporaryDirectory() as folder:
        timed(f"GNU parallel, 16 shards, {CORES} at once", parallel, 16, folder, CORES)
        assert merged(folder) == whole
else:
    print("GNU parallel is missing")
