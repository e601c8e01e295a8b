"""Published and derived figures of a season: calvings by 21 days, percentages, calving intervals.

`derived` means arithmetic from a published rule: safe as a check of the rule, no safer than the rule.
"""

from __future__ import annotations

MISSOURI = "University of Missouri Extension, Evaluate your calving distribution"
NEBRASKA = "University of Nebraska Extension, Calving distribution, quoting SPA"
SPA = "University of Nebraska Extension G2094, Virginia Tech aps-0317: Standardized Performance Analysis"
KANSAS = "Kansas State University in the cattle press: 65 % in the first 21 days, +20 %, +10 %, 5 % open"

# Bull in, first days of the periods and calvings: derived from the rule of MISSOURI, 283 days after bull in.
BULL_IN = "2025-06-01"
PERIODS = ["2026-03-11", "2026-04-01", "2026-04-22", "2026-05-13"]
CALVINGS = [
    "2026-03-05",  # before the start: counts in the first period, MISSOURI
    "2026-03-12", "2026-03-14", "2026-03-20", "2026-03-25", "2026-03-31", "2026-04-02", "2026-04-10",
    "2026-04-21", "2026-04-25", "2026-05-15",
]  # fmt: skip
CALVED = [(6, 54.5), (3, 27.3), (1, 9.1), (1, 9.1)]

# A farm's calving sheet by the third calf: 1 before the start, then by periods. The counts are as published
# beside the rule (MISSOURI; beef.unl.edu/calvingdistribution); the days within each period are ours.
SHEET_BEFORE = 1
SHEET = [11, 2, 33, 28, 9, 5, 1, 2]

# Days after bull in of the two rules that count them.
RULES = [("283", 283, MISSOURI), ("285", 285, NEBRASKA)]

# Of 102 exposed 2 were sold in calf for other reasons, 93 were found in calf, of whom 1 aborted and 1 had
# been misread; 91 calves at term, 2 of them born dead; 3 more died, 86 weaned at a mean of 520 lb.
# Formulas of SPA, the arithmetic derived. (measure, so many, of, percent)
EXPOSED, SOLD_IN_CALF = 102, 2
SPA_SHARES = [
    ("pregnancy", 93, 100, 93.0),
    ("loss", 2, 93, 2.15),
    ("calving", 91, 100, 91.0),
    ("live", 89, 100, 89.0),
    ("deaths_of_born", 5, 91, 5.49),
    ("deaths", 5, 100, 5.0),
    ("weaning", 86, 100, 86.0),
]
WEANED_LB, LB_PER_EXPOSED = 520.0, 447.2

# (calved before, calved, days): derived.
INTERVALS = [
    ("2024-03-10", "2025-03-05", 360),
    ("2024-02-20", "2025-02-20", 366),  # 29 February between
    ("2023-03-01", "2024-04-02", 398),
]
