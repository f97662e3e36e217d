#!/usr/bin/python3
"""Does a sweep run as a Slurm job array, on two nodes of which one dies? A real controller and two node daemons on this
machine, by hand and on the loopback, under a name of their own; all of them are ended at the end. Nothing is skipped: a
machine without Slurm fails.

slurm_test.py PROGRAM
"""
import getpass
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import unittest

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import small_case  # noqa: E402
import sweep_case  # noqa: E402

PROGRAM = ""
NODES = ("first", "second")
# Which daemons, plugins and times: toolchain of a test, not advice for a cluster. No accounting, no cgroups, no systemd.
CONF = """ClusterName=sweep
SlurmctldHost={host}(127.0.0.1)
SlurmctldPort={ports[0]}
SlurmUser={user}
SlurmdUser={user}
AuthType=auth/munge
AuthInfo=socket={root}/munge.socket
CredType=cred/munge
StateSaveLocation={root}/state
SlurmctldPidFile={root}/slurmctld.pid
SlurmctldLogFile={root}/slurmctld.log
SlurmdSpoolDir={root}/%n
SlurmdPidFile={root}/%n.pid
SlurmdLogFile={root}/%n.log
SlurmdParameters=config_overrides
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
SchedulerType=sched/backfill
SchedulerParameters=bf_interval=2,sched_interval=2
AccountingStorageType=accounting_storage/none
JobAcctGatherType=jobacct_gather/none
MpiDefault=none
SlurmctldTimeout=30
SlurmdTimeout=8
KillWait=5
ReturnToService=2
NodeName={nodes[0]} NodeHostname={host} NodeAddr=127.0.0.1 Port={ports[1]} CPUs=2 RealMemory=100
NodeName={nodes[1]} NodeHostname={host} NodeAddr=127.0.0.1 Port={ports[2]} CPUs=2 RealMemory=100
PartitionName=all Nodes=ALL Default=YES MaxTime=10 State=UP
"""
TOOLS = ("munged", "slurmctld", "slurmd", "sbatch", "squeue", "sinfo", "scontrol", "scancel")


def path_of(tool):
    return shutil.which(tool, path=os.environ.get("PATH", "") + ":/usr/sbin:/sbin")


def free_ports(count):
    sockets = [socket.socket() for _ in range(count)]
    for one in sockets:
        one.bind(("127.0.0.1", 0))
    ports = [one.getsockname()[1] for one in sockets]
    for one in sockets:
        one.close()
    return ports


class Cluster:
    """A controller and two nodes. Whatever it started has its folder in the environment, and is found by it."""

    def __init__(self):
        self.root = tempfile.mkdtemp(prefix="pellicle-slurm-", dir="/tmp")
        self.conf = os.path.join(self.root, "slurm.conf")
        self.environment = {**os.environ, "SLURM_CONF": self.conf}
        for folder in ("state", *NODES):
            os.makedirs(os.path.join(self.root, folder))
        with open(self.conf, "w", encoding="utf-8") as file:
            file.write(CONF.format(host=socket.gethostname().split(".")[0], user=getpass.getuser(), root=self.root,
                                   nodes=NODES, ports=free_ports(3)))
        with open(os.path.join(self.root, "munge.key"), "wb", opener=lambda p, f: os.open(p, f, 0o600)) as file:
            file.write(os.urandom(128))

    def start(self):
        in_root = {name: os.path.join(self.root, f"munge.{name}") for name in ("key", "socket", "pid", "log", "seed")}
        self.daemon("munged", "--force", "--key-file", in_root["key"], "--socket", in_root["socket"], "--pid-file",
                    in_root["pid"], "--log-file", in_root["log"], "--seed-file", in_root["seed"])
        self.daemon("slurmctld")
        for node in NODES:
            self.daemon("slurmd", "-N", node, node=node)
        self.wait(lambda: self.ask("sinfo", "-h", "-N", "-o", "%N %t").split() ==
                  [word for node in NODES for word in (node, "idle")], "two idle nodes", 60)

    def daemon(self, tool, *words, node=""):
        """Each goes to the background by itself once it is up."""
        done = subprocess.run([path_of(tool), *words], env={**self.environment, "SWEEP_TEST_NODE": node}, text=True,
                              stdin=subprocess.DEVNULL, capture_output=True, timeout=60)
        assert done.returncode == 0, f"{tool}: {done.stderr}"

    def ask(self, tool, *words):
        done = subprocess.run([path_of(tool), *words], env=self.environment, text=True, capture_output=True, timeout=60)
        return done.stdout if done.returncode == 0 else ""

    def wait(self, holds, what, seconds):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if holds():
                return
            time.sleep(0.2)
        raise AssertionError(f"{what}: not within {seconds} s\n{self.ask('sinfo')}{self.ask('squeue', '-l')}"
                             f"{self.log('slurmctld')}")

    def log(self, name):
        with open(os.path.join(self.root, name + ".log"), encoding="utf-8", errors="replace") as file:
            return "".join(file.readlines()[-30:])

    def processes(self, *marks):
        """Ours, whose environment holds one of these as well."""
        found = []
        for name in os.listdir("/proc"):
            if not name.isdigit() or int(name) == os.getpid():
                continue
            try:
                with open(f"/proc/{name}/environ", "rb") as file:
                    environment = file.read().split(b"\0")
            except OSError:
                continue  # it has ended, or is another user's
            if f"SLURM_CONF={self.conf}".encode() in environment and \
                    (not marks or any(mark.encode() in environment for mark in marks)):
                found.append(int(name))
        return found

    def kill(self, processes):
        for process in processes:
            try:
                os.kill(process, signal.SIGKILL)
            except ProcessLookupError:
                pass

    def kill_node(self, node):
        """As when the power goes: the daemon and all that ran there, at once. Again, for what was just being started."""
        killed = 0
        while True:
            processes = self.processes(f"SWEEP_TEST_NODE={node}", f"SLURMD_NODENAME={node}")
            if not processes:
                return killed
            self.kill(processes)
            killed += len(processes)
            time.sleep(0.1)

    def end(self):
        end = time.monotonic() + 20
        while self.processes() and time.monotonic() < end:
            self.kill(self.processes())
            time.sleep(0.1)
        left = self.processes()
        shutil.rmtree(self.root, ignore_errors=True)
        assert not left, f"processes that cannot be ended: {left}"


class OnSlurm(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        missing = [tool for tool in TOOLS if not path_of(tool)]
        assert not missing, f"not installed: {missing}; apt-get install slurmctld slurmd slurm-client munge"
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle-slurm-case-")
        cls.addClassCleanup(cls.place.cleanup)
        cls.cluster = Cluster()
        cls.addClassCleanup(cls.cluster.end)
        cls.cluster.start()

    def submit(self, sweep):
        return self.cluster.ask("sbatch", "--parsable", "--chdir", sweep, os.path.join(sweep, "slurm.sh")).strip()

    def left(self):
        """Tasks that wait or run: lines of 'job_task state node'."""
        lines = self.cluster.ask("squeue", "-h", "-r", "-o", "%i|%T|%N|%r").splitlines()
        return [line.split("|") for line in lines]

    def hurry(self):
        """Slurm holds what it has put back into the queue for some two minutes; nobody here wants to wait for that."""
        for job, state, _, reason in self.left():
            if state == "PENDING" and reason in ("BeginTime", "JobHeldAdmin", "launch failed requeued held"):
                self.cluster.ask("scontrol", "release", job)
                self.cluster.ask("scontrol", "update", f"JobId={job}", "StartTime=now")
        return not self.left()

    def test_a_node_dies_and_every_case_is_done_once(self):
        case = sweep_case.write(os.path.join(self.place.name, "block"))
        calm = os.path.join(self.place.name, "calm")
        sweep = os.path.join(self.place.name, "sweep")
        done = subprocess.run([PROGRAM, "sweep", case, "--scripts", "--out", sweep, "--jobs", "4", "--threads", "1"],
                              text=True, capture_output=True, timeout=60)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertTrue(self.submit(sweep))
        runs_on = lambda: {node for _, state, node, _ in self.left() if state == "RUNNING"}
        self.cluster.wait(lambda: runs_on() == set(NODES) and len(sweep_case.done(sweep)) >= 2,
                          "both nodes at work and two cases done", 90)
        before = sweep_case.done(sweep)
        self.assertLess(len(before), sweep_case.CASES - 2, "a node that dies when all is done shows nothing")
        self.assertGreaterEqual(self.cluster.kill_node(NODES[1]), 3, "its daemon, a task's script and the program")
        self.cluster.wait(lambda: "down" in self.cluster.ask("sinfo", "-h", "-n", NODES[1], "-o", "%t"),
                          "the node is seen to be down", 60)
        self.cluster.wait(self.hurry, "an empty queue", 150)
        self.assertEqual(len(sweep_case.done(sweep)), sweep_case.CASES)
        for folder, moment in before.items():
            self.assertEqual(sweep_case.done(sweep)[folder], moment, f"{folder} was done before and is not run again")
        # Given again after all is done: every task ends at once.
        moments = sweep_case.done(sweep)
        self.assertTrue(self.submit(sweep))
        self.cluster.wait(lambda: not self.left(), "an empty queue", 90)
        self.assertEqual(sweep_case.done(sweep), moments)
        done = subprocess.run([PROGRAM, "sweep", sweep, "--gather", "--json"], text=True, capture_output=True, timeout=60)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual([case["state"] for case in json.loads(done.stdout)["cases"]], ["done"] * sweep_case.CASES)
        done = subprocess.run([PROGRAM, "sweep", case, "--out", calm, "--quiet"], text=True, capture_output=True,
                              timeout=300)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual(sweep_case.answers(sweep), sweep_case.answers(calm))


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main(verbosity=2)
