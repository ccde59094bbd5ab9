"""Arc-flow models of jobs with several priced bar lengths, solved by HiGHS.

The formulation is the plain one of J. M. Valerio de Carvalho for several lengths, "LP models for
bin packing and cutting stock problems", European Journal of Operational Research 141 (2002) 253-273
(from memory): a bar is a path from 0 over item arcs and loss arcs to the end of some kind of bar,
where it leaves at that bar's cost, at most as often as there are such bars. Blade absorbed: an item
takes its length and one blade, a bar has its usable length and one blade. Item arcs in decreasing
order, as in arcflow.py. Loss arcs lead to the next bar end.

One thread. The time is that of the solver alone, without reading the file or building the model.
Needs the packages highspy and numpy.

Reads the files that `trade --export` writes. Output: CSV, one line per job and setting:
name, setting, limit, seconds to solve, seconds to build, arcs, status, cost, bound, plan
where status is "optimal" or "limit", cost is that of the best plan found, if any, and the plan is
"times*kind:length,length" joined by "|", so that it can be checked elsewhere; kinds are counted from
0 in the order of the file.
"""

import argparse
import csv
import json
import math
import pathlib
import sys
import time

import highspy
import numpy as np

from arcflow import item_arcs


def loss_heads(nodes, ends):
    """The next bar end after each node; -1 after the last end."""
    place = np.searchsorted(ends, nodes, side="right")
    return np.where(place < len(ends), np.append(ends, -1)[place], -1)


def build(bars, items):
    """The model in units of cost, what a unit is, and its arcs (tail, head, item).

    `bars`: (capacity, cost, available or None); `items`: (size, demand), largest first. The first
    columns are the bars. An item of -1 is loss.
    """
    ends = np.unique([capacity for capacity, _, _ in bars])
    last = int(ends[-1])
    tails, reached = item_arcs(last, items)
    nodes = np.union1d(reached, ends)
    row_of = np.full(last + 1, -1, dtype=np.int64)
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


def patterns(flow, arcs, bars, lengths):
    """The paths of an integer flow as (times, kind, lengths)."""
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
            path.append((node, leaving[node][-1]))
            column = path[-1][1][0]
            node = None if column < count else int(arc_head[column - count])
        times = min(entry[1] for _, entry in path)
        for node, entry in path:
            entry[1] -= times
            if entry[1] == 0:
                leaving[node].remove(entry)
        items = [arc_item[entry[0] - count] for _, entry in path if entry[0] >= count]
        found.append((times, path[-1][1][0], [lengths[i] for i in items if i >= 0]))
    return found


def options(setting, limit):
    """What is set apart from the defaults of HiGHS."""
    chosen = {
        "output_flag": False,
        "threads": 1,
        "time_limit": float(limit),
        "mip_rel_gap": 0.0,
    }
    if setting == "ipm":
        # Every linear program of the search that is not started from a basis.
        chosen["mip_lp_solver"] = "ipm"
    else:
        chosen["mip_lp_solver"] = "simplex"
    return chosen


def solve(job, setting, limit):
    """The fields of a line, from the limit on."""
    begun = time.perf_counter()
    kerf = job["kerf"]
    bars = [(bar["usable"] + kerf, bar["cost"], bar["available"]) for bar in job["bars"]]
    items = [(length + kerf, demand) for length, demand in job["pieces"]]
    lp, unit, arcs = build(bars, items)
    solver = highspy.Highs()
    for name, value in options(setting, limit).items():
        if solver.setOptionValue(name, value) != highspy.HighsStatus.kOk:
            raise SystemExit(f"HiGHS knows no {name} = {value}")
    solver.passModel(lp)
    built = time.perf_counter()
    solver.run()
    done = time.perf_counter()
    optimal = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    info = solver.getInfo()
    bound = info.mip_dual_bound * unit
    cost, plan = "", ""
    if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
        flow = np.rint(np.array(solver.getSolution().col_value)).astype(np.int64)
        cost = sum(int(times) * bar[1] for times, bar in zip(flow, bars))
        found = patterns(flow, arcs, bars, [length for length, _ in job["pieces"]])
        plan = "|".join(f"{n}*{kind}:{','.join(map(str, cut))}" for n, kind, cut in found)
    return [
        limit,
        f"{done - built:.4f}",
        f"{built - begun:.4f}",
        len(arcs[0]),
        "optimal" if optimal else "limit",
        cost,
        f"{bound:.6f}" if math.isfinite(bound) else "",
        plan,
    ]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("jobs", type=pathlib.Path, nargs="+", help="files of `trade --export`")
    parser.add_argument("--setting", choices=["simplex", "ipm"], default="simplex")
    parser.add_argument("--limit", type=float, default=60.0, help="seconds for each job")
    parser.add_argument(
        "--stop-after", type=float, help="begin no further job after so many seconds in all"
    )
    arguments = parser.parse_args()
    begun = time.perf_counter()
    # The solver greets on standard output: what is written there is kept apart by flushing lines.
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow("name setting limit seconds build arcs status cost bound plan".split())
    for path in arguments.jobs:
        if arguments.stop_after and time.perf_counter() - begun > arguments.stop_after:
            break
        job = json.loads(path.read_text())
        row = [job["name"], arguments.setting, *solve(job, arguments.setting, arguments.limit)]
        out.writerow(row)
        sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
