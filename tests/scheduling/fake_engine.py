"""A child that speaks the engine's protocol and does what its first argument says: only for tests."""

import json
import os
import signal
import subprocess
import sys
import time


def say(**line):
    print(json.dumps(line), flush=True)


def plan(total, seconds=0.1):
    result = {"format": 1, "status": "found", "schedule": {}, "cost": {"late": total}, "total": total}
    say(event="plan", seconds=seconds, result=result)
    return result


def main(act):
    problem = sys.stdin.read()
    say(event="phase", phase="first plan", seconds=0.0)
    if act == "done":
        result = plan(700)
        say(event="done", result={**result, "total": len(problem)})
    elif act in ("helps", "helps, then killed"):
        found = [
            {"kind": "hands", "what": name, "saves_low": 1, "saves_high": 9} for name in ("fair", "coat")
        ]
        for number, each in enumerate(found, 1):
            say(event="progress", done=number, of=2)
            say(event="help", help=each)
        if act == "helps, then killed":
            os.kill(os.getpid(), signal.SIGKILL)
        say(event="done", result={"helps": found[::-1]})
    elif act == "task":
        say(event="done", result={"helps": sys.argv[2:4]})
    elif act == "obey":
        stopped = []
        signal.signal(signal.SIGTERM, lambda *_: stopped.append(1))
        result = plan(700)
        while not stopped:
            time.sleep(0.02)
        say(event="done", result={**result, "status": "stopped"})
    elif act == "deaf":
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
        plan(700)
        time.sleep(600)
    elif act == "deaf before a plan":
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
        time.sleep(600)
    elif act == "killed":
        os.kill(os.getpid(), signal.SIGKILL)
    elif act == "killed after a plan":
        plan(700)
        os.kill(os.getpid(), signal.SIGKILL)
    elif act == "crash":
        os.kill(os.getpid(), signal.SIGSEGV)
    elif act == "memory":
        bytearray(8 * 2**30)
    elif act == "bad input":
        print("jobs[0].steps: is missing", file=sys.stderr)
        sys.exit(2)
    elif act == "refused":
        plan(700)
        breach = {"rule": "stand", "job": "a", "slot": 3, "says": "Two boats in H1 on 27 November."}
        say(event="failed", why="The witness refuses the schedule.", breaches=[breach])
    elif act == "gives up":
        plan(700)
        say(event="failed", why="The engine ran out of memory (MemoryError).")
        sys.exit(3)
    elif act == "garbled":
        print("{ this is no line", flush=True)
    elif act == "orphans":  # its helper keeps the pipe open after it has gone
        helper = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(600)"])
        say(event="phase", phase=f"helper {helper.pid}", seconds=0.0)
        os.kill(os.getpid(), signal.SIGKILL)
    elif act == "limits":
        import resource

        limit = resource.getrlimit(resource.RLIMIT_AS)[0]
        secrets = sorted(k for k in os.environ if "SECRET" in k or "URL" in k)
        say(
            event="phase",
            phase=json.dumps([os.nice(0), limit, os.getsid(0) == os.getpid(), secrets]),
            seconds=0,
        )
        result = plan(1)
        say(event="done", result=result)


if __name__ == "__main__":
    main(sys.argv[1])
