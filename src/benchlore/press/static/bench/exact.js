/**
 * Proven optima of what can still matter, where its table is small: `benchlore.procedure.exact` and `.ranking`.
 *
 * A state is a mixed-radix number over the checks (0: not done, else result + 1) times one over the fixes
 * (0: not tried, else which variant failed, from 1). The table holds values times the probability of the state,
 * and is filled downwards, as what follows a state has a larger index (Smallwood & Sondik 1973).
 */

import { maxOf, sumOf } from "./model.js";
import { setupsCost } from "./state.js";

/** What can still matter at a position, as a problem of its own; `null` where its table is too large. */
export function reducedAt(position, memory) {
  const kept = keptAt(position, memory);
  if (kept === null) return null;
  const small = partOf(position, kept);
  return bytesOf(small) <= memory ? { ...kept, small } : null;
}

/** The checks and fixes that can matter; `null` if there are plainly too many. */
function keptAt(position, memory) {
  const { problem: p, state, why } = position;
  const live = [...state.b.keys()].filter((f) => state.b[f] > 0);
  const open = why.map((reason) => reason === "");
  const most = Math.log2(Math.max(memory, 1));
  let fixes = [...p.group.keys()].filter(
    (a) => open[p.C + a] && live.some((f) => p.detects[a][f] < 1 || p.missed[a][f] < 1),
  );
  if (new Set(fixes.map((a) => p.group[a])).size > most) return null;
  fixes = worthSoaking(position, live, fixes, open);
  const kept = open.slice(0, p.C).map((is, c) => is && tells(position, live, c));
  if (bitsOf(p, kept, fixes) > most) return null;
  addOpeners(position, kept, fixes, open);
  if (bitsOf(p, kept, fixes) > most) return null;
  return { checks: [...kept.keys()].filter((c) => kept[c]), fixes };
}

/** The binary logarithm of the states of the table. */
function bitsOf(p, kept, fixes) {
  const variants = new Map();
  for (const a of fixes) variants.set(p.group[a], (variants.get(p.group[a]) ?? 0) + 1);
  const ways = [...p.results.filter((_, c) => kept[c]), ...variants.values()];
  return sumOf(ways.map((way) => Math.log2(way + 1)));
}

/** The variants whose place no cheaper one of the same fix can always take. */
function worthSoaking({ problem: p }, live, fixes, open) {
  if (new Set(fixes.map((a) => p.group[a])).size === fixes.length) return fixes;
  const costs = [...p.checkCost.filter((_, c) => open[c]), ...fixes.map((a) => p.fixCost[a])];
  const atStake = p.comeback - Math.min(p.giveUp, ...costs);
  const kept = [];
  for (const a of [...fixes].sort((one, other) => p.fixCost[one] - p.fixCost[other] || one - other)) {
    const isReplaced = kept.some((k) => {
      if (p.group[k] !== p.group[a]) return false;
      const caught = live.map((f) => p.detects[a][f] - p.detects[k][f]);
      if (caught.some((each) => each < 0)) return false;
      const more = Math.max(0, ...caught.map((each, n) => each * p.missed[a][live[n]]));
      return p.fixCost[a] - p.fixCost[k] >= more * atStake;
    });
    if (!isReplaced) kept.push(a);
  }
  return kept.sort((one, other) => one - other);
}

/** Whether the fault moves the condition of a check, and the condition its result. */
function tells(position, live, c) {
  const rows = position.states[position.problem.condition[c]];
  const moved = live.some((f) => rows[f].some((each, s) => each !== rows[live[0]][s]));
  return moved && position.shown[c];
}

/** Add the checks that kept actions wait for, and those that foretell these. */
function addOpeners({ problem: p, waits, shown }, kept, fixes, open) {
  for (let changed = true; changed; ) {
    changed = false;
    const doing = [...kept.keys()].filter((c) => kept[c]).concat(fixes.map((a) => p.C + a));
    const openers = new Set(doing.flatMap((k) => (waits.get(k) ?? []).map((gate) => gate.check)));
    const conditions = new Set([...openers].map((c) => p.condition[c]));
    for (let c = 0; c < p.C; c++) {
      const foretells = open[c] && shown[c] && conditions.has(p.condition[c]);
      if (!kept[c] && (foretells || openers.has(c))) kept[c] = changed = true;
    }
  }
}

const rank = (values) => {
  const order = [...new Set(values)].sort((one, other) => one - other);
  return values.map((value) => order.indexOf(value));
};

/** The chosen checks and fixes with the evidence in them; equal faults become one. */
function partOf({ problem: p, state, states }, { checks, fixes }) {
  const conditions = [...new Set(checks.map((c) => p.condition[c]))].sort((one, other) => one - other);
  const groups = [...mergedFaults(p, state, states, conditions, fixes).values()];
  const first = groups.map((group) => group[0]);
  const only = (row) => Float64Array.from(first, (f) => row[f]);
  const number = new Map(checks.map((c, k) => [c, k]));
  const gates = (action) =>
    p.gates[action]
      .filter(({ check }) => number.has(check))
      .map(({ check, open }) => ({ check: number.get(check), open }));
  return {
    F: first.length,
    C: checks.length,
    A: fixes.length,
    prior: Float64Array.from(groups, (group) => sumOf(group.map((f) => state.b[f]))),
    table: conditions.map((g) => first.map((f) => states[g][f])),
    condition: checks.map((c) => conditions.indexOf(p.condition[c])),
    results: checks.map((c) => p.results[c]),
    shows: checks.map((c) => p.shows[c]),
    checkCost: checks.map((c) => p.checkCost[c]),
    checkSetups: checks.map((c) => p.checkSetups[c]),
    fixCost: fixes.map((a) => p.fixCost[a]),
    fixSetups: fixes.map((a) => p.fixSetups[a]),
    missed: fixes.map((a) => only(p.missed[a])),
    detects: fixes.map((a) => only(p.detects[a])),
    group: rank(fixes.map((a) => p.group[a])),
    setupCost: p.setupCost,
    setupBits: p.setupBits,
    noSetup: p.noSetup,
    gates: [...checks.map(gates), ...fixes.map((a) => gates(p.C + a))],
    giveUp: p.giveUp,
    comeback: p.comeback,
    standing: state.standing,
  };
}

function mergedFaults(p, state, states, conditions, fixes) {
  const groups = new Map();
  for (let f = 0; f < p.F; f++) {
    if (state.b[f] <= 0) continue;
    const rows = conditions.map((g) => [...states[g][f]].join());
    const key = [...rows, ...fixes.map((a) => `${p.missed[a][f]},${p.detects[a][f]}`)].join(";");
    groups.set(key, [...(groups.get(key) ?? []), f]);
  }
  return groups;
}

/** The variants of each fix of a reduced problem. */
const variantsIn = (p) =>
  Array.from({ length: Math.max(-1, ...p.group) + 1 }, (_, g) => [...p.group.keys()].filter((a) => p.group[a] === g));

const productOf = (numbers) => numbers.reduce((product, each) => product * each, 1);

const masksOf = (p) => productOf(variantsIn(p).map((each) => each.length + 1));

/** Memory that the Python's table needs: what decides whether both rank exactly. */
function bytesOf(p) {
  const masks = masksOf(p);
  const ways = new Set(p.detects.map((row) => row.join())).size;
  let rows = 0;
  for (const g of new Set(p.condition)) {
    rows += productOf(p.results.filter((_, c) => p.condition[c] === g).map((count) => count + 1));
  }
  const sets = Math.min(2 ** p.C, 2 ** p.setupCost.length);
  const states = productOf(p.results.map((count) => count + 1)) * masks;
  return 8 * (states + rows * p.F + (3 + 2 * ways) * masks * p.F + sets * (p.C + p.A) * masks);
}

/** Optimal costs of a reduced problem: `{costs, afterCheck, afterFix}`, as a table that is filled once. */
export function sweptTable(p) {
  const grid = gridOf(p);
  const values = new Float64Array(productOf(grid.radix) * grid.masks);
  sweep(p, grid, values);
  return {
    costs: actionCosts(p, grid, values),
    afterCheck: (c, r) => values[(r + 1) * grid.stride[grid.order.indexOf(c)] * grid.masks],
    afterFix: (a) => values[grid.step[a]],
  };
}

function gridOf(p) {
  const order = [...p.condition.keys()].sort((one, other) => p.condition[one] - p.condition[other] || one - other);
  const radix = order.map((c) => p.results[c] + 1);
  const place = new Map(order.map((c, k) => [c, k]));
  const actions = [...order, ...p.group.map((_, a) => p.C + a)];
  return {
    order,
    radix,
    stride: stridesOf(radix),
    blocks: blocksOf(p, order),
    gates: actions.map((k) => p.gates[k].map(({ check, open }) => ({ check: place.get(check), open }))),
    ...masksIn(p),
  };
}

/** Weights of mixed-radix digits, the last one moving fastest. */
function stridesOf(radix) {
  const strides = Array(radix.length).fill(1);
  for (let k = radix.length - 2; k >= 0; k--) strides[k] = strides[k + 1] * radix[k + 1];
  return strides;
}

/** Each condition's digits, and `L_g(f)` for all combinations of their results. */
function blocksOf(p, order) {
  const blocks = [];
  for (let from = 0; from < order.length; ) {
    const g = p.condition[order[from]];
    let to = from;
    let joint = [p.table[g][0].map(() => 1)];
    for (; to < order.length && p.condition[order[to]] === g; to++) {
      const c = order[to];
      const choices = Array.from({ length: p.results[c] + 1 }, (_, r) =>
        p.shows[c].map((row) => (r === 0 ? 1 : row[r - 1])),
      );
      joint = joint.flatMap((one) => choices.map((choice) => one.map((each, s) => each * choice[s])));
    }
    const rows = joint.map((one) => Float64Array.from(p.table[g], (states) => sumOf(states.map((each, s) => each * one[s]))));
    blocks.push({ from, to, inner: stridesOf(order.slice(from, to).map((c) => p.results[c] + 1)), rows });
    from = to;
  }
  return blocks;
}

/** What is left of each fault after every set of failed fixes, and what the last of them let slip. */
function masksIn(p) {
  const ways = [...new Set(p.detects.map((row) => row.join()))];
  const way = p.detects.map((row) => ways.indexOf(row.join()));
  const step = Array(p.A).fill(0);
  const weights = [];
  let sets = [{ missed: one(p.F), caught: one(p.F), slip: ways.map(() => new Float64Array(p.F)), made: p.noSetup }];
  for (const variants of variantsIn(p)) {
    weights.push({ radix: variants.length + 1, weight: sets.length });
    const before = sets;
    for (const [n, a] of variants.entries()) {
      step[a] = (n + 1) * before.length;
      sets = sets.concat(before.map((set) => failedOf(p, set, a, way[a])));
    }
  }
  return {
    masks: sets.length,
    survive: sets.map((set) => set.missed.map((each, f) => each * set.caught[f])),
    slip: ways.map((_, k) => sets.map((set) => set.missed.map((each, f) => each * set.slip[k][f]))),
    made: sets.map((set) => set.made),
    way,
    step,
    weights,
  };
}

const one = (length) => new Float64Array(length).fill(1);

function failedOf(p, set, a, k) {
  const times = (row, by) => row.map((each, f) => each * by[f]);
  const slip = set.slip.map((row) => times(row, p.detects[a]));
  slip[k] = set.caught.map((each, f) => each * (1 - p.detects[a][f]));
  return {
    missed: times(set.missed, p.missed[a]),
    caught: times(set.caught, p.detects[a]),
    slip,
    made: set.made | p.fixSetups[a],
  };
}

const isAllowed = (gates, digits) =>
  gates.every(({ check, open }) => digits[check] > 0 && open[digits[check] - 1]);

/** `P(e, f)` of some digits. */
function weightsAt(p, grid, digits) {
  let weights = p.prior;
  for (const { from, to, inner, rows } of grid.blocks) {
    let row = 0;
    for (let c = from; c < to; c++) row += digits[c] * inner[c - from];
    if (row > 0) weights = weights.map((each, f) => each * rows[row][f]);
  }
  return weights;
}

const standingAt = (p, grid, digits) =>
  grid.order.reduce((standing, c, k) => (digits[k] > 0 ? standing | p.checkSetups[c] : standing), p.standing);

/** The mask after one more failed fix; the mask itself where that fix was tried before. */
function maskAfter(p, grid, m, a) {
  const { radix, weight } = grid.weights[p.group[a]];
  return Math.floor(m / weight) % radix ? m : m + grid.step[a];
}

function sweep(p, grid, values) {
  const { masks } = grid;
  const digits = grid.radix.map((radix) => radix - 1);
  const costs = setupCosts(p, grid);
  for (let e = values.length / masks - 1; e >= 0; e--) {
    const weights = weightsAt(p, grid, digits);
    const isReachable = digits.every((digit, k) => digit === 0 || isAllowed(grid.gates[k], digits));
    if (maxOf(weights) > 0 && isReachable) {
      fillState(p, grid, values, e, digits, weights, costs(standingAt(p, grid, digits)));
    }
    for (let k = digits.length - 1; k >= 0; k--) {
      if (digits[k]-- > 0) break;
      digits[k] = grid.radix[k] - 1;
    }
  }
}

/** Cost of every action with its missing setups, for every mask, by what stands; remembered. */
function setupCosts(p, grid) {
  const known = new Map();
  const priced = (own, needs, standing) =>
    Float64Array.from(grid.made, (made) => own + setupsCost(p, needs & ~(standing | made)));
  return (standing) => {
    if (!known.has(standing)) {
      known.set(standing, {
        check: grid.order.map((c) => priced(p.checkCost[c], p.checkSetups[c], standing)),
        fix: p.fixCost.map((own, a) => priced(own, p.fixSetups[a], standing)),
      });
    }
    return known.get(standing);
  };
}

const dot = (weights, row) => {
  let total = 0;
  for (let f = 0; f < weights.length; f++) total += weights[f] * row[f];
  return total;
};

/** Fill in the optimum of one state of the checks, for every set of failed fixes. */
function fillState(p, grid, values, e, digits, weights, costs) {
  const { masks, radix, stride } = grid;
  const reach = grid.survive.map((row) => dot(weights, row));
  const bad = grid.slip.map((sets) => sets.map((row) => dot(weights, row) * p.comeback));
  const best = values.subarray(e * masks, (e + 1) * masks);
  for (let m = 0; m < masks; m++) best[m] = reach[m] > 0 ? reach[m] * p.giveUp : 0;
  for (let k = 0; k < digits.length; k++) {
    if (digits[k] > 0 || !isAllowed(grid.gates[k], digits)) continue;
    for (let m = 0; m < masks; m++) {
      let value = reach[m] * costs.check[k][m];
      for (let r = 1; r < radix[k]; r++) value += values[(e + r * stride[k]) * masks + m];
      if (value < best[m]) best[m] = value;
    }
  }
  const usable = [...p.group.keys()].filter((a) => isAllowed(grid.gates[digits.length + a], digits));
  for (let m = masks - 1; m >= 0; m--) {
    for (const a of usable) {
      const next = maskAfter(p, grid, m, a);
      if (next === m) continue;
      const value = reach[m] * costs.fix[a][m] + bad[grid.way[a]][next] + best[next];
      if (value < best[m]) best[m] = value;
    }
  }
}

/** Expected total cost of taking each check or fix first; `Infinity` where not allowed. */
function actionCosts(p, grid, values) {
  const digits = grid.order.map(() => 0);
  const reach = sumOf(p.prior);
  const costs = setupCosts(p, grid)(p.standing);
  const worth = new Float64Array(p.C + p.A).fill(Infinity);
  for (const [k, c] of grid.order.entries()) {
    if (!isAllowed(grid.gates[k], digits)) continue;
    worth[c] = reach * costs.check[k][0];
    for (let r = 1; r < grid.radix[k]; r++) worth[c] += values[r * grid.stride[k] * grid.masks];
  }
  for (let a = 0; a < p.A; a++) {
    if (!isAllowed(grid.gates[p.C + a], digits)) continue;
    const next = grid.step[a];
    const bad = dot(p.prior, grid.slip[grid.way[a]][next]);
    worth[p.C + a] = reach * costs.fix[a][0] + bad * p.comeback + values[next];
  }
  return worth.map((each) => each / reach);
}
