"""Arc-flow models of one-length cutting stock, solved by HiGHS: the other side of a comparison.

The formulation is the plain one of J. M. Valerio de Carvalho, "Exact solution of bin-packing
problems using column generation and branch-and-bound", Annals of Operations Research 86 (1999)
629-659 (from memory): a bar is a path from 0 to its length over item arcs and a loss arc. Of his
reductions it uses the decreasing order: an item arc starts only where longer items, or earlier
copies of its own, can end. The loss arcs lead straight to the end of the bar.

One thread. The time is that of the solver alone, without reading the file or building the model.
Needs the packages highspy and numpy.

Output: one line per instance, tab-separated:
class, name, seconds to solve, seconds to build, arcs, status, bars, patterns
where status is "optimal", "limit" or "too-large", and patterns are "times:length,length,..."
joined by "|", so that the plan can be checked elsewhere.
"""

import argparse
import pathlib
import sys
import time

import highspy
import numpy as np


def read(path):
    """The instances of a class file: name, bar length, [(length, demand)] by decreasing length."""
    instances = []
    for line in path.read_text().splitlines():
        fields = line.split()
        if not fields:
            continue
        items = [tuple(map(int, item.split("x"))) for item in fields[3:]]
        instances.append((fields[0], int(fields[1]), sorted(items, reverse=True)))
    return instances


def sample(instances, count):
    """So many instances, evenly spaced from the first."""
    if count <= 0 or count >= len(instances):
        return instances
    return [instances[i * len(instances) // count] for i in range(count)]


def item_arcs(bar, items):
    """For each item the nodes its arcs start from, and the nodes that are reached at all."""
    reached = np.zeros(bar + 1, dtype=bool)
    reached[0] = True
    tails = []
    for length, demand in items:
        starts = np.zeros(bar + 1, dtype=bool)
        front = reached.copy()
        for _ in range(min(demand, bar // length)):
            front[bar - length + 1 :] = False
            if not front.any():
                break
            starts |= front
            moved = np.zeros(bar + 1, dtype=bool)
            moved[length:] = front[: bar + 1 - length]
            reached |= moved
            front = moved
        tails.append(np.flatnonzero(starts))
    return tails, np.flatnonzero(reached)


def build(bar, items):
    """The model, and for each column (tail, head, item) with item -1 for loss."""
    tails, nodes = item_arcs(bar, items)
    # Rows: conservation at every node but the last, then the demands. Column 0: the bars.
    inner = nodes[nodes < bar]
    row_of = np.full(bar + 1, -1, dtype=np.int64)
    row_of[inner] = np.arange(len(inner))
    lengths = np.array([length for length, _ in items])
    arc_tail = np.concatenate([*tails, inner[inner > 0]])
    arc_item = np.concatenate(
        [np.full(len(t), i) for i, t in enumerate(tails)] + [np.full(len(inner) - 1, -1)]
    )
    is_item = arc_item >= 0
    arc_head = np.where(is_item, arc_tail + lengths[arc_item], bar)
    arcs = len(arc_tail)

    # Triplets: +1 leaving the tail, -1 entering the head, +1 in the demand.
    columns = np.arange(1, arcs + 1)
    enters = arc_head < bar
    row = np.concatenate(
        [[0], row_of[arc_tail], row_of[arc_head[enters]], len(inner) + arc_item[is_item]]
    )
    column = np.concatenate([[0], columns, columns[enters], columns[is_item]])
    value = np.concatenate(
        [[-1.0], np.ones(arcs), -np.ones(enters.sum()), np.ones(is_item.sum())]
    )
    order = np.argsort(column, kind="stable")
    starts = np.searchsorted(column[order], np.arange(arcs + 2))

    lp = highspy.HighsLp()
    lp.num_col_ = arcs + 1
    lp.num_row_ = len(inner) + len(items)
    lp.col_cost_ = np.concatenate([[1.0], np.zeros(arcs)])
    lp.col_lower_ = np.zeros(arcs + 1)
    demands = np.array([float(demand) for _, demand in items])
    lp.col_upper_ = np.concatenate(
        [[highspy.kHighsInf], np.where(is_item, demands[arc_item], highspy.kHighsInf)]
    )
    lp.row_lower_ = np.concatenate([np.zeros(len(inner)), demands])
    lp.row_upper_ = np.concatenate(
        [np.zeros(len(inner)), np.full(len(items), highspy.kHighsInf)]
    )
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = starts
    lp.a_matrix_.index_ = row[order]
    lp.a_matrix_.value_ = value[order]
    lp.integrality_ = [highspy.HighsVarType.kInteger] * (arcs + 1)
    return lp, arc_tail, arc_head, arc_item


def patterns(flow, arc_tail, arc_head, arc_item, bar, items):
    """The paths of an integer flow as (times, lengths)."""
    leaving = {}
    for arc in np.flatnonzero(flow):
        leaving.setdefault(int(arc_tail[arc]), []).append([int(arc), int(flow[arc])])
    found = []
    while leaving.get(0):
        node, path = 0, []
        while node != bar:
            path.append(leaving[node][-1])
            node = int(arc_head[path[-1][0]])
        times = min(left for _, left in path)
        lengths = []
        for entry in path:
            entry[1] -= times
            arc = entry[0]
            if entry[1] == 0:
                leaving[int(arc_tail[arc])].remove(entry)
            if arc_item[arc] >= 0:
                lengths.append(items[arc_item[arc]][0])
        found.append((times, lengths))
    return found


def solve(bar, items, limit, most_arcs):
    """Seconds to solve and to build, arcs, status, bars, patterns."""
    begun = time.perf_counter()
    tails, _ = item_arcs(bar, items)
    arcs = sum(len(t) for t in tails)
    if arcs > most_arcs:
        return limit, time.perf_counter() - begun, arcs, "too-large", None, []
    lp, arc_tail, arc_head, arc_item = build(bar, items)
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("time_limit", float(limit))
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.passModel(lp)
    built = time.perf_counter()
    solver.run()
    done = time.perf_counter()
    times = (done - built, built - begun, arcs)
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return *times, "limit", None, []
    flow = np.rint(np.array(solver.getSolution().col_value)).astype(np.int64)
    plan = patterns(flow[1:], arc_tail, arc_head, arc_item, bar, items)
    return *times, "optimal", int(flow[0]), plan


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("path", type=pathlib.Path, help="directory of class files, or one file")
    parser.add_argument("--sample", type=int, default=5, help="instances of each class; 0: all")
    parser.add_argument("--limit", type=float, default=60.0, help="seconds for each instance")
    parser.add_argument("--only", help="one class")
    parser.add_argument(
        "--most-arcs",
        type=int,
        default=10_000_000,
        help="larger models are not tried and counted as if they ran into the limit",
    )
    arguments = parser.parse_args()
    files = [arguments.path] if arguments.path.is_file() else sorted(arguments.path.glob("*.txt"))
    for path in files:
        if arguments.only and path.stem != arguments.only:
            continue
        for name, bar, items in sample(read(path), arguments.sample):
            seconds, building, arcs, status, bars, plan = solve(
                bar, items, arguments.limit, arguments.most_arcs
            )
            text = "|".join(f"{times}:{','.join(map(str, lengths))}" for times, lengths in plan)
            fields = [path.stem, name, f"{seconds:.4f}", f"{building:.4f}", arcs, status]
            print(*fields, bars if bars is not None else "-", text or "-", sep="\t", flush=True)


if __name__ == "__main__":
    sys.exit(main())
