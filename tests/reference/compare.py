"""Generated jobs, planned by the program and solved by HiGHS: do the costs agree?

    python3 compare.py --binary ../../target/release/lengthwise --jobs 500

Prints a line for each disagreement with the whole job, then the counts. Exit code 1 if there is any, or
if an answer of the program cannot be read. A job that HiGHS does not settle within --limit counts as
unsolved, neither for nor against.
"""

import argparse
import csv
import importlib.metadata
import json
import platform
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from math import ceil
from multiprocessing import Pool
from pathlib import Path

from model import Bar, Job, Run, solve

TENTHS = 10  # of a millimetre
MONEY = 10_000  # hundredths of a penny


@dataclass
class Made:
    """A job as CSV and flags, and the same for the model."""

    pieces: list
    stock: list
    hand: list
    flags: list
    job: Job
    priced: bool
    features: list = field(default_factory=list)


def tenths(mm):
    value = Decimal(str(mm)) * TENTHS
    assert value == int(value)
    return int(value)


def money(text):
    value = Decimal(text) * MONEY
    assert value == int(value)
    return int(value)


def ends(text):
    near, _, far = text.partition("/")
    return tenths(near or 0), tenths(far or near or 0)


def stock_rows(rng, priced, features):
    """Kinds of bar to buy: rows of the table, and how they sell."""
    lengths = rng.sample(range(1800, 6001, 100), rng.choice([1, 1, 2, 2, 3, 4]))
    rows = []
    rate = rng.randint(40, 400)  # pence a metre
    limited = rng.random() < 0.25
    for length in lengths:
        row = {"length": str(length)}
        if priced:
            sold = rng.choice(["each"] * 5 + ["per m", "pack"])
            a_metre = max(1, rate + rng.randint(-rate // 5, rate // 5))
            bars = 1
            if sold == "per m":
                row["sold"] = sold
                price = a_metre
            else:
                if sold == "pack":
                    bars = rng.randint(2, 4)
                    row["sold"] = f"pack of {bars}"
                price = max(1, a_metre * length * bars // 1000)
            row["price"] = pounds(price)
            if sold != "each":
                features.append(sold)
            if rng.random() < 0.2:
                features.append("price breaks")
                least = rng.randint(2, 12) * (3 if sold == "per m" else 1)
                for _ in range(rng.randint(1, 2)):
                    price = price * rng.randint(80, 97) // 100
                    if price < 1:
                        break
                    row["price"] += f"; {pounds(price)} from {least}"
                    least += rng.randint(1, 8)
        if limited and rng.random() < 0.7:
            row["available"] = str(rng.randint(0, 8) * (5 if row.get("sold") == "per m" else 1))
            features.append("limited")
        if rng.random() < 0.3:
            row["square_off"] = rng.choice(["10", "5/0", "0/12.5", "10/15"])
        rows.append(row)
    return rows


def pounds(pence):
    return f"{pence // 100}.{pence % 100:02}"


def bar_of(row, usual_square):
    length = tenths(row["length"])
    near, far = ends(row.get("square_off", usual_square))
    bar = Bar(length - near - far)
    sold = row.get("sold", "each")
    available = row.get("available")
    per_bar = Decimal(1)
    if sold == "per m":
        per_bar = Decimal(row["length"]) / 1000
    if sold.startswith("pack"):
        bar.bars_per_sale = int(sold.removeprefix("pack of "))
    if available is not None:
        bar.most_sales = int(Decimal(available) // per_bar)
    if "price" not in row:
        bar.value = length
        return bar
    first, *breaks = row["price"].split("; ")
    bar.prices = [(0, money(Decimal(first) * per_bar))]
    for at in breaks:
        price, least = at.split(" from ")
        sales = ceil(Fraction(least) / Fraction(per_bar))  # up to a whole bar
        bar.prices.append((sales, money(Decimal(price) * per_bar)))
    return bar


def hand_rows(rng, priced):
    rows = []
    for _ in range(rng.choice([0, 0, 0, 1, 2])):
        row = {"length": str(rng.randint(500, 4000)), "available": str(rng.randint(1, 2))}
        if priced and rng.random() < 0.5:
            row["worth"] = pounds(rng.randint(1, 400))
        if rng.random() < 0.3:
            row["square_off"] = rng.choice(["0/10", "5"])
        rows.append(row)
    return rows


def make(seed):
    """One job of the generator."""
    rng = random.Random(seed)
    priced = rng.random() < 0.75
    features = ["prices" if priced else "no prices"]
    stock = stock_rows(rng, priced, features)
    hand = hand_rows(rng, priced)
    kerf = rng.choice(["0", "2", "3", "3.2", "5"])
    flags = ["--kerf", kerf]
    cut = tenths(kerf)
    if rng.random() < 0.2:
        flags += ["--per-cut", "1"]
        cut += tenths(1)
        features.append("per cut")
    square = "0"
    if rng.random() < 0.2:
        square = rng.choice(["10", "0/8"])
        flags += ["--square-off", square]
    if hand:
        features.append("in hand")
    longest = max(int(row["length"]) for row in stock)
    runs = rng.random() < 1 / 3
    pieces, job_pieces = piece_rows(rng, longest, 3 if runs else 6)
    job = Job(cut, [bar_of(row, square) for row in stock], job_pieces, [], {})
    for row in hand:
        near, far = ends(row.get("square_off", "0"))
        worth = money(row["worth"]) if "worth" in row else 0
        usable = tenths(row["length"]) - near - far
        job.bars.append(Bar(usable, worth, most_sales=int(row["available"])))
    if runs:
        features.append("runs")
        run_rows(rng, longest, pieces, job, features)
    rng.shuffle(pieces)
    return Made(pieces, stock, hand, flags, job, priced, features)


def piece_rows(rng, longest, most_rows):
    rows, counts = [], Counter()
    left = 25
    for _ in range(rng.randint(1, most_rows)):
        length = rng.randint(longest // 9, longest * 9 // 10)
        if rng.random() < 0.02:
            length = longest + 1  # fits no bar to buy
        row = {"length": str(length), "qty": str(rng.randint(1, min(8, left)))}
        cut = tenths(length)
        if rng.random() < 0.15:
            row["end_gap"] = rng.choice(["5", "0/10", "2.5/0"])
            cut -= sum(ends(row["end_gap"]))
        if rng.random() < 0.1:
            row["spare"] = "1"
        count = int(row["qty"]) + int(row.get("spare", 0))
        counts[cut] += count
        left -= count
        rows.append(row)
        if left < 1:
            break
    return rows, dict(counts)


def run_rows(rng, longest, pieces, job, features):
    """Runs with joints on supports, some in courses."""
    group = rng.random() < 0.35
    gap = rng.choice(["0", "0", "4", "10"])
    course, origin, spacing = 1, rng.choice([0, 0, 50, 150, 310]), rng.choice([400, 600, 600])
    rule = rng.choice([(1, 2), (1, 2), (1, 3), (2, 3)])
    for _ in range(rng.randint(1, 2)):
        length = rng.randint(longest // 2, longest * 22 // 10)
        count = rng.randint(1, 4)
        row = {"length": str(length), "qty": str(count)}
        if group or rng.random() < 0.7:
            row["joints"] = f"every {spacing}" + (f" from {origin}" if origin else "")
            places = list(range(origin or spacing, length, spacing))
        else:
            places = [rng.randint(100, 600)]
            while len(places) < 9 and places[-1] < length - 1000:
                places.append(places[-1] + rng.choice([350, 400, 600, 625, rng.randint(250, 900)]))
            row["joints"] = "at " + " ".join(map(str, places))
        run = Run(tenths(length), count, [tenths(p) for p in places], tenths(gap), 0, 0, 0, None)
        if gap != "0":
            row["joint_gap"] = gap
        run.shortest = tenths(50)
        if rng.random() < 0.5:
            row["shortest"] = rng.choice(["200", "450", "1200"])
            run.shortest = tenths(row["shortest"])
        if rng.random() < 0.35:
            run.joints_max = rng.randint(1, 3)
            row["joints_max"] = str(run.joints_max)
            features.append("joints_max")
        if rng.random() < 0.3:
            row["end_gap"] = rng.choice(["5", "0/10"])
            run.near_gap, run.far_gap = ends(row["end_gap"])
        if group:
            features.append("courses")
            row |= {"course_group": "slope", "course": str(course)}
            row["course_rule"] = "/".join(map(str, rule))
            run.group, run.first_course = "slope", course
            job.rules["slope"] = rule
            course += count + rng.choice([0, 0, 1])
        job.runs.append(run)
        pieces.append(row)


def table(path, rows):
    columns = list(dict.fromkeys(column for row in rows for column in row))
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns, restval="")
        writer.writeheader()
        writer.writerows(rows)


@dataclass
class Said:
    """What the program answers: proof, and value and bound in the units of the model."""

    proof: str
    value: int | None
    bound: int | None
    text: str


def plan(binary, made, directory):
    table(directory / "pieces.csv", made.pieces)
    command = [binary, "plan", "pieces.csv", *made.flags, "--json"]
    for name, rows in (("stock", made.stock), ("in-hand", made.hand)):
        if rows:
            table(directory / f"{name}.csv", rows)
            command += [f"--{name}", f"{name}.csv"]
    run = subprocess.run(command, cwd=directory, capture_output=True, text=True, check=False)
    if run.returncode not in (0, 1):
        return Said("refused", None, None, run.stderr)
    (material,) = json.loads(run.stdout, parse_float=Decimal)["materials"]
    proof = material["proof"]
    if proof == "impossible":
        return Said(proof, None, None, material["why"])
    if made.priced:
        value, bound = money(material["cost"]), money(material["bound"])
    else:
        value, bound = (int(material[key] * TENTHS) for key in ("bought_mm", "bound_mm"))
    return Said(proof, value, bound, "")


def verdict(said, answer):
    """agree, unsolved or disagree."""
    if said.proof == "refused":
        return "disagree"
    if answer.status in ("limit", "too-large"):
        # What it has found or proven so far must not contradict the program all the same.
        impossible = said.proof == "impossible" and answer.value is not None
        cheaper = None not in (answer.value, said.bound) and answer.value < said.bound
        dearer = None not in (answer.bound, said.value) and answer.bound > said.value + 0.5
        return "disagree" if impossible or cheaper or dearer else "unsolved"
    if answer.status == "infeasible":
        return "agree" if said.proof == "impossible" else "disagree"
    if said.proof == "impossible":
        return "disagree"
    if said.proof == "optimal":
        return "agree" if said.value == answer.value == said.bound else "disagree"
    within = said.bound <= answer.value <= said.value
    return "not proven here" if within else "disagree"


def show(seed, made, said, answer):
    print(f"-- seed {seed}: the program {said}, HiGHS {answer}")
    print("flags", *made.flags)
    for name, rows in (("pieces", made.pieces), ("stock", made.stock), ("in hand", made.hand)):
        print(name, json.dumps(rows))
    sys.stdout.flush()


def one(work):
    """A job made, planned and solved; for a process of its own."""
    binary, seed, limit = work
    made = make(seed)
    with tempfile.TemporaryDirectory() as directory:
        said = plan(binary, made, Path(directory))
    at = time.monotonic()
    answer = solve(made.job, limit, seed)
    return seed, made, said, answer, time.monotonic() - at


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--binary", required=True, help="the program lengthwise")
    parser.add_argument("--jobs", type=int, default=500)
    parser.add_argument("--first", type=int, default=1, help="the first seed")
    parser.add_argument("--limit", type=float, default=60, help="seconds of HiGHS for a job")
    parser.add_argument("--workers", type=int, default=1, help="jobs at a time")
    args = parser.parse_args()
    binary = str(Path(args.binary).resolve())
    begun, counts, features, statuses = time.monotonic(), Counter(), Counter(), Counter()
    slowest = (0.0, None)
    work = [(binary, seed, args.limit) for seed in range(args.first, args.first + args.jobs)]
    with Pool(args.workers) as pool:
        for seed, made, said, answer, seconds in pool.imap(one, work):
            slowest = max(slowest, (seconds, seed))
            kind = verdict(said, answer)
            counts[kind] += 1
            statuses[answer.status] += 1
            features.update(set(made.features))
            if kind != "agree":
                print(f"seed {seed}: {kind}")
                show(seed, made, said, answer)
    program = subprocess.run([binary, "--version"], capture_output=True, text=True, check=True)
    print(
        f"{program.stdout.strip()}; HiGHS through highspy {importlib.metadata.version('highspy')}, "
        f"Python {platform.python_version()}"
    )
    print(
        f"seeds {args.first} to {args.first + args.jobs - 1}: {counts['agree']} agree, "
        f"{counts['disagree']} disagree, {counts['unsolved']} unsolved by HiGHS, "
        f"{counts['not proven here']} not proven by the program"
    )
    print("HiGHS:", ", ".join(f"{n} {status}" for status, n in sorted(statuses.items())))
    print("jobs with", ", ".join(f"{name} {n}" for name, n in sorted(features.items())))
    print(f"{time.monotonic() - begun:.0f} s in all; slowest of HiGHS {slowest[0]:.1f} s (seed {slowest[1]})")
    return 1 if counts["disagree"] else 0


if __name__ == "__main__":
    sys.exit(main())
