#!/usr/bin/python3
"""Reads `go test -json` and shows it as a person would like to.

    go test -json ./... | gotest.py COUNTS

Prints go's own line for each package as it comes, and what failing tests and
builds printed, and at the end the slowest tests. Writes 'PASSED FAILED' to the file COUNTS: tests and subtests,
where a skipped one counts as failed, and so does a package that failed
although none of its tests did. Exits with 1 where anything failed or no test
ran.
"""
import collections
import json
import sys


class Run:
    def __init__(self):
        self.passed = self.failed = 0
        self.said = collections.defaultdict(list)  # (package, test) -> lines
        self.broken = collections.defaultdict(list)  # import path -> lines of the compiler
        self.failures = collections.Counter()  # package -> number of failed tests
        self.seconds = {}  # (package, test) -> duration, subtests excluded

    def take(self, line):
        try:
            event = json.loads(line)
        except ValueError:
            print(line, end="")
            return
        action = event.get("Action")
        package, test = event.get("Package"), event.get("Test")
        if action == "build-output":
            self.broken[event["ImportPath"]].append(event["Output"])
        elif action == "output":
            self.said[package, test].append(event["Output"])
        elif action in ("pass", "fail", "skip"):
            if test:
                if "/" not in test:
                    self.seconds[package, test] = event.get("Elapsed", 0)
                self.ended(package, test, action)
            else:
                self.package_ended(package, action, event)

    def ended(self, package, test, action):
        lines = self.said.pop((package, test), [])
        if action == "pass":
            self.passed += 1
            return
        self.failed += 1
        self.failures[package] += 1
        if action == "skip":
            print(f"--- SKIPPED, which counts as failed: {package} {test}")
        print("".join(line for line in lines if not line.startswith("=== ")), end="")

    def package_ended(self, package, action, event):
        print("".join(self.broken.pop(event.get("FailedBuild"), [])), end="")
        lines = self.said.pop((package, None), [])
        if action == "fail" and not self.failures[package]:
            self.failed += 1  # did not build, panicked or ran out of time
            unended = [text for key in list(self.said) if key[0] == package for text in self.said.pop(key)]
            lines = unended + lines
        elif action != "fail":
            lines = [text for text in lines if text.startswith(("ok", "?", "\t"))]
        print("".join(text for text in lines if text not in ("PASS\n", "FAIL\n")), end="", flush=True)


    def show_slowest(self, count=20, least=5):
        slow = sorted(((s, key) for key, s in self.seconds.items() if s >= least), reverse=True)
        for seconds, (package, test) in slow[:count]:
            print(f"      {seconds:5.0f} s  {package} {test}")


def main():
    run = Run()
    for line in sys.stdin:
        run.take(line)
    run.show_slowest()
    if run.passed + run.failed == 0:
        print("no test ran")
        run.failed = 1
    with open(sys.argv[1], "w") as out:
        print(run.passed, run.failed, file=out)
    sys.exit(run.failed > 0)


if __name__ == "__main__":
    main()
