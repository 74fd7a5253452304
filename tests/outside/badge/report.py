"""Counts checks and prints one line for each."""

import sys


class Report:
    """Collects outcomes; `finish` ends the program with 1 if any check failed."""

    def __init__(self, title):
        self.title = title
        self.passed = 0
        self.failed = 0

    def check(self, name, good, detail=""):
        if good:
            self.passed += 1
            print(f"ok    {name}")
        else:
            self.failed += 1
            print(f"FAIL  {name}" + (f": {detail}" if detail else ""))

    def equal(self, name, found, wanted):
        self.check(name, found == wanted, f"found {found!r}, wanted {wanted!r}")

    def finish(self):
        print(f"{self.title}: {self.passed} passed, {self.failed} failed")
        sys.exit(1 if self.failed or not self.passed else 0)
