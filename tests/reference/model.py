"""A job as a mixed-integer program for HiGHS, by a formulation of its own.

Everything is said again from the documented rules, in whole tenths of a millimetre and whole
hundredths of a penny; nothing is taken from the library or from its bounds.

Bars. A network whose nodes are positions along a bar: the first piece begins at 0, and each piece
begins where the one before it ends and the blade has passed, so a piece of length l leads from p to
p + l + kerf. A bar of usable length U may be left at any p <= U + kerf (its last piece needs no slot
beyond it). One unit of flow is one bar; pieces lie in order of decreasing length, which leaves out
only the same bars in another order, and positions from which the same can follow are one. Flow that leaves as a bar of one kind is bounded by how many of
that kind there are. This is the arc-flow model (Valerio de Carvalho 1999; from memory).

Runs. A second network for each run: its places for joints, once for each number of joints so far.
An arc from place to place is a part; it demands one piece of that part's length from the first
network. All copies of a run are one integer flow, but where the run lies among courses: there each
copy has a network of its own, so that joints on one support can be counted over courses that follow
each other.

Money. Whole packs, bars by the metre, and for price breaks a count of sales for each price with a
binary that holds the count to the range of that price.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from math import gcd

import highspy

# More arcs than this are not tried.
MOST_ARCS = 250_000


@dataclass
class Bar:
    """A kind of bar. Lengths in tenths of a millimetre, money in hundredths of a penny."""

    usable: int
    # What one more bar counts for where there are no prices; what cutting into one in hand counts for.
    value: int = 0
    bars_per_sale: int = 1
    # (least sales, price of a sale), the first from 0; empty for bars in hand and without prices.
    prices: list = field(default_factory=list)
    most_sales: int | None = None


@dataclass
class Run:
    opening: int
    count: int
    places: list
    joint_gap: int
    near_gap: int
    far_gap: int
    shortest: int
    joints_max: int | None
    group: str | None = None
    first_course: int = 0


@dataclass
class Job:
    kerf: int
    bars: list
    # length -> count
    pieces: dict
    runs: list
    # group -> (joints, courses)
    rules: dict


@dataclass
class Answer:
    """`status` is optimal, infeasible, limit or too-large; `value` is exact, from the rounded solution."""

    status: str
    value: int | None = None
    bound: float | None = None


def parts(run, longest):
    """The parts that the rules allow: (from place, to place) -> length. Places include both ends."""
    stops = [0, *run.places, run.opening]
    found = {}
    for start in range(len(stops) - 1):
        for end in range(start + 1, len(stops)):
            first, last = start == 0, end == len(stops) - 1
            near = run.near_gap if first else run.joint_gap // 2
            far = run.far_gap if last else run.joint_gap // 2
            length = stops[end] - stops[start] - near - far
            long_enough = (first and last) or length >= run.shortest
            if 0 < length <= longest and long_enough:
                found[start, end] = length
    return len(stops) - 1, found


def fewest_joints(last, found, longest):
    """Of splits into parts of at most this length; None if there is none."""
    reached, joints = {0}, -1
    seen = {0}
    while reached:
        if last in reached:
            return joints
        reached = {
            end for (start, end), length in found.items() if start in reached and length <= longest
        } - seen
        seen |= reached
        joints += 1
    return None


def most_parts(last, found, most):
    """How often a split of one copy can have a part of each length, at most."""
    often = defaultdict(int)
    for length in set(found.values()):
        where = [stretch for stretch, one in found.items() if one == length]
        first = any(start == 0 for start, end in where)
        final = any(end == last and start for start, end in where)
        inner = any(start and end != last for start, end in where)
        between = min(most - 1, len(where)) if inner else 0
        often[length] = max(1, first + final + max(0, between)) if most else 1
    return often


def can_be_had(bar):
    return bar.most_sales is None or bar.most_sales > 0


def most_joints(run, last, found, bars):
    """How many joints a run may have; None where no split is allowed."""
    needed = fewest_joints(last, found, max((b.usable for b in bars if can_be_had(b)), default=0))
    if needed is None:
        return None
    if run.joints_max is not None:
        return run.joints_max if needed <= run.joints_max else None
    endless = [bar.usable for bar in bars if bar.most_sales is None]
    if endless:
        usual = fewest_joints(last, found, max(endless))
        if usual is not None:
            return usual
    return needed


class Model:
    """Columns and rows of the program, kept beside HiGHS so that a solution can be checked exactly."""

    def __init__(self):
        self.cost, self.lower, self.upper = [], [], []
        self.rows = []  # (low, high, {column: factor})

    def column(self, cost=0, most=highspy.kHighsInf):
        self.cost.append(cost)
        self.lower.append(0)
        self.upper.append(most)
        return len(self.cost) - 1

    def row(self, low, high, terms):
        self.rows.append((low, high, {c: f for c, f in terms.items() if f}))

    def solve(self, limit, seed):
        h = highspy.Highs()
        h.setOptionValue("output_flag", False)
        h.setOptionValue("threads", 1)
        h.setOptionValue("random_seed", seed)
        h.setOptionValue("time_limit", float(limit))
        h.setOptionValue("mip_rel_gap", 0.0)
        # Costs are whole multiples of a unit: what is less than one below the best is the best.
        unit = gcd(*self.cost) or 1
        h.setOptionValue("mip_abs_gap", 0.99)
        h.setOptionValue("mip_feasibility_tolerance", 1e-7)
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.cost), len(self.rows)
        lp.col_cost_ = [cost // unit for cost in self.cost]
        lp.col_lower_, lp.col_upper_ = self.lower, self.upper
        lp.row_lower_ = [low for low, _, _ in self.rows]
        lp.row_upper_ = [high for _, high, _ in self.rows]
        lp.integrality_ = [highspy.HighsVarType.kInteger] * len(self.cost)
        starts, indices, values = [0], [], []
        for _, _, terms in self.rows:
            indices += terms.keys()
            values += terms.values()
            starts.append(len(indices))
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = starts, indices, values
        h.passModel(lp)
        h.run()
        status = h.getModelStatus()
        if status in (
            highspy.HighsModelStatus.kInfeasible,
            highspy.HighsModelStatus.kUnboundedOrInfeasible,
        ):
            return Answer("infeasible")  # never unbounded: no cost is below 0
        info = h.getInfo()
        bound = info.mip_dual_bound * unit
        if info.primal_solution_status != highspy.kSolutionStatusFeasible:
            return Answer("limit", None, bound)
        found = [round(value) for value in h.getSolution().col_value]
        value = self.check(found)
        is_best = status == highspy.HighsModelStatus.kOptimal and value - bound < unit * (1 - 1e-6)
        return Answer("optimal" if is_best else "limit", value, bound)

    def check(self, found):
        """The exact cost of whole numbers, which keep every row exactly."""
        for column, value in enumerate(found):
            assert self.lower[column] <= value <= self.upper[column], "a column out of its range"
        for low, high, terms in self.rows:
            total = sum(found[column] * factor for column, factor in terms.items())
            assert low <= total <= high, "a row is broken by the rounded solution"
        return sum(cost * value for cost, value in zip(self.cost, found))


def piece_arcs(lengths, kerf, last):
    """All (tail, head, length) of bars up to position `last`; None if they are too many."""
    reached, arcs = {0}, []
    for length, most in sorted(lengths.items(), reverse=True):
        size, front = length + kerf, reached
        before, tried = set(reached), set()
        for _ in range(most):
            tails = [tail for tail in front if tail + size <= last and tail not in tried]
            tried.update(tails)
            arcs += [(tail, tail + size, length) for tail in tails]
            front = {tail + size for tail in tails}
            before |= front
            if not front or len(arcs) > MOST_ARCS:
                break
        reached = before
        if len(arcs) > MOST_ARCS:
            return None
    return arcs


def raised(arcs, kerf, ends):
    """The same arcs with every position moved as far along as all that may follow it allows.

    What follows a position fits behind the new one too, up to the same end of a bar; positions
    that fall together become one node (Brandao & Pedroso 2016; from memory).
    """
    follow = defaultdict(list)
    for tail, head, length in arcs:
        follow[tail].append((head, length))
    new = {}
    for at in sorted({node for tail, head, _ in arcs for node in (tail, head)}, reverse=True):
        end = next(end for end in ends if end >= at)
        new[at] = min([end, *(new[head] - length - kerf for head, length in follow[at])])
    new[0] = 0
    return {(new[tail], new[head], length) for tail, head, length in arcs}


def bar_network(model, job, lengths, demand):
    """Arcs of pieces and their ends; adds to `demand[length]` the columns that cut it."""
    ends = sorted({bar.usable + job.kerf for bar in job.bars if bar.usable > 0 and can_be_had(bar)})
    arcs = piece_arcs(lengths, job.kerf, ends[-1]) if ends else None
    if arcs is None:
        return None
    balance = defaultdict(dict)  # node -> terms, inflow positive
    into = defaultdict(dict)
    for tail, head, length in sorted(raised(arcs, job.kerf, ends)):
        column = model.column()
        balance[tail][column] = -1
        balance[head][column] = 1
        demand[length].append(column)
    for node in sorted(balance):
        if node:
            end = next(end for end in ends if end >= node)
            column = model.column()
            balance[node][column] = -1
            into[end][column] = 1
            model.row(0, 0, balance[node])
    # Where a bar is left, by the first end that holds it; from there on to longer bars.
    leave, carried = {}, None
    for end in ends:
        terms = dict(into[end])
        if carried is not None:
            terms[carried] = 1
        leave[end] = model.column()
        terms[leave[end]] = -1
        carried = model.column() if end != ends[-1] else None
        if carried is not None:
            terms[carried] = -1
        model.row(0, 0, terms)
    return leave


def buy(model, job, leave):
    """The bars of each kind that are cut into, and what they cost."""
    used = defaultdict(dict)
    for bar in job.bars:
        if bar.usable <= 0 or not can_be_had(bar):
            continue
        cut = model.column(bar.value)
        used[bar.usable + job.kerf][cut] = 1
        if not bar.prices:
            if bar.most_sales is not None:
                model.upper[cut] = bar.most_sales * bar.bars_per_sale
            continue
        most = bar.most_sales if bar.most_sales is not None else MOST_SALES
        sales, chosen = {}, {}
        for at, (least, price) in enumerate(bar.prices):
            if least > most:
                continue
            sold, on = model.column(price, most), model.column(0, 1)
            model.row(0, highspy.kHighsInf, {sold: 1, on: -least})
            model.row(-highspy.kHighsInf, 0, {sold: 1, on: -most})
            sales[sold] = bar.bars_per_sale
            chosen[on] = 1
        model.row(0, 1, chosen)
        model.row(0, highspy.kHighsInf, {cut: -1, **sales})
    for end, column in leave.items():
        model.row(0, 0, {column: -1, **used[end]})


# Above any number of sales that a job of the generator can need.
MOST_SALES = 200


def solve(job, limit=60.0, seed=0):
    """The least cost of a job."""
    model = Model()
    longest = max((b.usable for b in job.bars if can_be_had(b)), default=0)
    needs = defaultdict(dict)  # length -> terms of the columns that demand it
    fixed = dict(job.pieces)
    most_of = defaultdict(int, job.pieces)
    joints = defaultdict(lambda: defaultdict(dict))  # group -> (place, course) -> terms
    if any(length > longest for length in fixed):
        return Answer("infeasible")
    for run in job.runs:
        last, found = parts(run, longest)
        most = most_joints(run, last, found, job.bars)
        if most is None:
            return Answer("infeasible")
        copies = [(1, run.first_course + copy) for copy in range(run.count)]
        if run.group is None:
            copies = [(run.count, None)]
        for count, course in copies:
            run_network(model, run, (last, found, most), (count, course), needs, joints)
        for length, copies_of in most_parts(last, found, most).items():
            most_of[length] += run.count * copies_of
    for group, at in joints.items():
        allowed, window = job.rules[group]
        courses = sorted({course for _, course in at})
        for place in {place for place, _ in at}:
            for first in range(courses[0] - window + 1, courses[-1] + 1):
                terms = {}
                for course in range(first, first + window):
                    terms |= at.get((place, course), {})
                if terms:
                    model.row(0, allowed, terms)
    cuts = defaultdict(list)
    leave = bar_network(model, job, most_of, cuts)
    if leave is None:
        return Answer("too-large") if longest else Answer("infeasible")
    for length in most_of:
        terms = {column: 1 for column in cuts[length]}
        terms |= {column: -1 for column in needs[length]}
        wanted = fixed.get(length, 0)
        model.row(wanted, wanted, terms)
    buy(model, job, leave)
    return model.solve(limit, seed)


def run_network(model, run, splits, copies, needs, joints):
    """The splits of some copies of a run as a flow from its left end to its right."""
    (last, found, most), (count, course) = splits, copies
    balance = defaultdict(dict)
    for (start, end), length in found.items():
        for so_far in range(most + 1):
            if (start == 0) != (so_far == 0):
                continue
            column = model.column(0, count)
            balance[start, so_far][column] = -1
            to = ("end", 0) if end == last else (end, so_far + 1)
            balance[to][column] = 1
            needs[length][column] = 1
            if end != last and run.group is not None:
                place = run.places[end - 1]
                joints[run.group][place, course][column] = 1
    for node, terms in balance.items():
        if node == (0, 0):
            model.row(-count, -count, terms)
        elif node == ("end", 0):
            model.row(count, count, terms)
        else:
            model.row(0, 0, terms)
