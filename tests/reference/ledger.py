"""The account of one comparison: what was compared, how far apart it was, and what differed."""

import numpy as np

SHOWN = 10  # differences printed before the rest is only counted


class Ledger:
    """Counts rows and the largest difference per family; remembers every difference, shows the first ten."""

    def __init__(self):
        self.families = {}
        self.allowed = {}
        self.first = []
        self.count = 0

    def difference(self, family, text):
        """Record one difference that no tolerance covers."""
        self.families.setdefault(family, [0, 0.0, 0.0])
        self.count += 1
        if len(self.first) < SHOWN:
            self.first.append(f"{family}: {text}")

    def allow(self, reason, rows):
        """Count rows that differ on purpose, so that a growing number is seen."""
        if rows:
            self.allowed[reason] = self.allowed.get(reason, 0) + int(rows)

    def compare(self, family, got, want, tolerance, where):
        """Compare two arrays (or two numbers); `where(i)` names row `i` for the reader."""
        got, want = np.atleast_1d(got).astype(float), np.atleast_1d(want).astype(float)
        apart, tolerance = np.abs(got - want), np.broadcast_to(tolerance, got.shape)
        row = self.families.setdefault(family, [0, 0.0, 0.0])
        row[0] += len(apart)
        if (apart > row[1]).any():
            worst = int(np.nanargmax(apart))
            row[1:] = float(apart[worst]), float(tolerance[worst])
        for i in np.flatnonzero(~(apart <= tolerance)):  # a NaN is a difference
            self.difference(family, f"{where(i)}: evenrooms {float(got[i])!r}, reference {float(want[i])!r}")

    def finish(self):
        """Print the account; 0 when something was compared and nothing differed, else 1."""
        for family, (rows, apart, tolerance) in self.families.items():
            print(f"{family}: {rows} rows, max difference {apart:.3g}" + (f" (allowed there {tolerance:.3g})" if apart else ""))
        for reason, rows in self.allowed.items():
            print(f"allowed: {rows} rows: {reason}")
        if self.count:
            print(f"{self.count} differences, the first {len(self.first)}:")
            print("\n".join(f"  {text}" for text in self.first))
        compared = sum(row[0] for row in self.families.values())
        if not compared:
            print("nothing was compared")
        return 1 if self.count or not compared else 0
