"""The arc-flow model of one cutting-stock job, solved by HiGHS: the other side of a comparison.

The formulation is the plain one of J. M. Valerio de Carvalho, "Exact solution of bin-packing
problems using column generation and branch-and-bound", Annals of Operations Research 86 (1999)
629-659, for several lengths as in "LP models for bin packing and cutting stock problems", European
Journal of Operational Research 141 (2002) 253-273 (both from memory): a bar is a path from 0 over
item arcs and loss arcs to the end of some kind of bar, where it leaves at that bar's cost, at most
as often as there are such bars. Blade absorbed: an item takes its length and one blade, a bar has
its usable length and one blade. Of his reductions it uses the decreasing order: an item arc starts
only where longer items, or earlier copies of its own, can end. Loss arcs lead to the next bar end.

One thread. The time is that of the solver alone, without reading the job or building the model.
Needs the packages highspy and numpy.

Reads a job as JSON from standard input: {"kerf": .., "bars": [[usable, cost, available or null],
..], "pieces": [[length, demand], ..]}, all whole numbers, pieces longest first. Writes a line of
JSON for each setting: "status" is "optimal", "limit", "too-large" (not tried) or "out-of-memory";
"cost" that of the best plan found, if any, "bound" that of the solver, and "plan" a list of
[times, kind of bar, lengths], so that it can be checked elsewhere.
"""

import argparse
import json
import math
import sys
import time

import highspy
import numpy as np


def item_arcs(last, items):
    """For each item the nodes its arcs start from, and the nodes that are reached at all."""
    reached = np.zeros(last + 1, dtype=bool)
    reached[0] = True
    tails = []
    for size, demand in items:
        starts = np.zeros(last + 1, dtype=bool)
        front = reached.copy()
        for _ in range(min(demand, last // size)):
            front[last - size + 1 :] = False
            if not front.any():
                break
            starts |= front
            moved = np.zeros(last + 1, dtype=bool)
            moved[size:] = front[: last + 1 - size]
            reached |= moved
            front = moved
        tails.append(np.flatnonzero(starts))
    return tails, np.flatnonzero(reached)


def loss_heads(nodes, ends):
    """The next bar end after each node; -1 after the last end."""
    place = np.searchsorted(ends, nodes, side="right")
    return np.where(place < len(ends), np.append(ends, -1)[place], -1)


def build(bars, items, tails, reached):
    """The model in units of cost, what a unit is, and its arcs (tail, head, item).

    `bars`: (capacity, cost, available or None); `items`: (size, demand), largest first. The first
    columns are the bars. An item of -1 is loss.
    """
    ends = np.unique([capacity for capacity, _, _ in bars])
    nodes = np.union1d(reached, ends)
    row_of = np.full(int(ends[-1]) + 1, -1, dtype=np.int64)
    row_of[nodes] = np.arange(len(nodes))
    sizes = np.array([size for size, _ in items])

    # From 0 there is no loss: a bar that nothing is cut from takes no part.
    loss_tail = nodes[nodes > 0]
    loss_head = loss_heads(loss_tail, ends)
    loss_tail, loss_head = loss_tail[loss_head >= 0], loss_head[loss_head >= 0]
    item_of = np.concatenate([np.full(len(t), i) for i, t in enumerate(tails)])
    item_tail = np.concatenate(tails)
    arc_tail = np.concatenate([item_tail, loss_tail])
    arc_head = np.concatenate([item_tail + sizes[item_of], loss_head])
    arc_item = np.concatenate([item_of, np.full(len(loss_tail), -1)])

    # Row 0 says nothing: what leaves node 0 is what arrives at the ends.
    count = len(bars)
    arcs = len(arc_tail)
    columns = np.arange(count, count + arcs)
    is_item = arc_item >= 0
    capacities = np.array([capacity for capacity, _, _ in bars])
    row = np.concatenate(
        [row_of[capacities], row_of[arc_tail], row_of[arc_head], len(nodes) + arc_item[is_item]]
    )
    column = np.concatenate([np.arange(count), columns, columns, columns[is_item]])
    value = np.concatenate(
        [np.ones(count), np.ones(arcs), -np.ones(arcs), np.ones(is_item.sum())]
    )
    keep = row > 0
    row, column, value = row[keep] - 1, column[keep], value[keep]
    order = np.lexsort((row, column))

    costs = [cost for _, cost, _ in bars]
    unit = math.gcd(*costs) or 1
    demands = np.array([float(demand) for _, demand in items])
    infinite = highspy.kHighsInf
    lp = highspy.HighsLp()
    lp.num_col_ = count + arcs
    lp.num_row_ = len(nodes) - 1 + len(items)
    lp.col_cost_ = np.concatenate([np.array(costs, dtype=float) / unit, np.zeros(arcs)])
    lp.col_lower_ = np.zeros(count + arcs)
    lp.col_upper_ = np.concatenate(
        [
            [infinite if available is None else float(available) for _, _, available in bars],
            np.where(is_item, demands[arc_item], infinite),
        ]
    )
    lp.row_lower_ = np.concatenate([np.zeros(len(nodes) - 1), demands])
    lp.row_upper_ = np.concatenate([np.zeros(len(nodes) - 1), np.full(len(items), infinite)])
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = np.searchsorted(column[order], np.arange(count + arcs + 1))
    lp.a_matrix_.index_ = row[order]
    lp.a_matrix_.value_ = value[order]
    lp.integrality_ = [highspy.HighsVarType.kInteger] * (count + arcs)
    return lp, unit, (arc_tail, arc_head, arc_item)


def patterns(flow, arcs, bars, pieces):
    """The paths of an integer flow as (times, kind, lengths); what is no path is left out."""
    arc_tail, arc_head, arc_item = arcs
    count = len(bars)
    leaving = {}
    for column in np.flatnonzero(flow):
        column = int(column)
        # Out at the end of a bar, or along an arc.
        tail = bars[column][0] if column < count else int(arc_tail[column - count])
        leaving.setdefault(tail, []).append([column, int(flow[column])])
    found = []
    while leaving.get(0):
        node, path = 0, []
        while node is not None:
            if not leaving.get(node):
                return found
            path.append((node, leaving[node][-1]))
            column = path[-1][1][0]
            node = None if column < count else int(arc_head[column - count])
        times = min(entry[1] for _, entry in path)
        for node, entry in path:
            entry[1] -= times
            if entry[1] == 0:
                leaving[node].remove(entry)
        items = [arc_item[entry[0] - count] for _, entry in path if entry[0] >= count]
        found.append((times, path[-1][1][0], [pieces[i][0] for i in items if i >= 0]))
    return found


def options(setting, limit):
    """What is set apart from the defaults of HiGHS."""
    return {
        "output_flag": False,
        "threads": 1,
        "time_limit": limit,
        "mip_rel_gap": 0.0,
        # Every linear program of the search that is not started from a basis.
        "mip_lp_solver": setting,
    }


def solve(job, setting, limit, most_arcs):
    """What is written of one setting."""
    begun = time.perf_counter()
    kerf, pieces = job["kerf"], job["pieces"]
    bars = [(usable + kerf, cost, available) for usable, cost, available in job["bars"]]
    items = [(length + kerf, demand) for length, demand in pieces]
    tails, reached = item_arcs(max(capacity for capacity, _, _ in bars), items)
    answer = {"setting": setting, "arcs": sum(map(len, tails)), "seconds": limit}
    if answer["arcs"] > most_arcs:
        return answer | {"status": "too-large"}
    lp, unit, arcs = build(bars, items, tails, reached)
    solver = highspy.Highs()
    for name, value in options(setting, limit).items():
        if solver.setOptionValue(name, value) != highspy.HighsStatus.kOk:
            sys.exit(f"HiGHS knows no {name} = {value}")
    solver.passModel(lp)
    built = time.perf_counter()
    solver.run()
    answer |= {"seconds": time.perf_counter() - built, "build": built - begun}
    optimal = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    answer["status"] = "optimal" if optimal else "limit"
    info = solver.getInfo()
    if math.isfinite(info.mip_dual_bound):
        answer["bound"] = info.mip_dual_bound * unit
    if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
        flow = np.rint(np.array(solver.getSolution().col_value)).astype(np.int64)
        answer["cost"] = sum(int(times) * cost for times, (_, cost, _) in zip(flow, bars))
        answer["plan"] = patterns(flow, arcs, bars, pieces)
    return answer


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--settings", default="simplex,ipm", help="how HiGHS solves its programs")
    parser.add_argument("--limit", type=float, default=60.0, help="seconds for each setting")
    parser.add_argument("--most-arcs", type=int, default=10_000_000, help="more are not tried")
    arguments = parser.parse_args()
    job = json.load(sys.stdin)
    for setting in arguments.settings.split(","):
        try:
            answer = solve(job, setting, arguments.limit, arguments.most_arcs)
        except MemoryError:
            answer = {"setting": setting, "status": "out-of-memory", "seconds": arguments.limit}
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
