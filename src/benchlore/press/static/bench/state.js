/**
 * A problem and a state of evidence, and what an action's results do to it: `benchlore.procedure.state`,
 * `.estimate` and `.rank`.
 *
 * A problem is `{F, S, C, A, prior, table[g][f], condition, results, shows[c][s][r], checkCost, checkSetups,
 * fixCost, fixSetups, missed[a], detects[a], group[a], setupCost, setupBits, noSetup, gates[action], giveUp,
 * comeback}`; each gate is `{check, open: [result is open]}`. A state is `{b, seen[g], digits, failed, standing}`;
 * `b` is a belief, unnormalised, and costs are times its sum.
 */

import { replaced, sumOf } from "./model.js";

const NEGLIGIBLE = 1e-12;
const HOPELESS = 0.5;

/** The problem of a whole model, with nothing left out. */
export function problemOf(model) {
  const count = model.checks.length;
  const fixes = model.options.slice(count);
  const conditions = model.conditions.length;
  return withTables({
    F: model.prior.length,
    C: count,
    A: fixes.length,
    prior: model.prior,
    table: model.conditions.map((each) => each.table),
    condition: model.checks.map((check) => check.condition),
    results: model.checks.map((check) => check.results.length),
    shows: model.checks.map((check) => check.shows),
    checkCost: model.actions.slice(0, count),
    checkSetups: model.checks.map((check) => check.setups),
    fixCost: model.actions.slice(count),
    fixSetups: fixes.map((fix) => fix.setups),
    missed: fixes.map((fix) => fix.missed),
    detects: fixes.map((fix) => fix.detects),
    group: fixes.map((fix) => fix.group),
    setupCost: model.setupCost,
    setupBits: model.bits,
    noSetup: model.nothing,
    gates: model.options.map((option) => gatesOf(model, option)),
    giveUp: model.data.give_up,
    comeback: model.data.comeback,
    conditions,
  });
}

const gatesOf = (model, option) =>
  option.gates.map((gate) => ({
    check: gate.check,
    open: model.checks[gate.check].results.map((_, r) => gate.results.includes(r)),
  }));

/** Add what can be computed once: what each check shows before any reading, and the variants of each fix. */
export function withTables(problem) {
  const expects = [];
  const sharp = [];
  for (let c = 0; c < problem.C; c++) {
    const rows = problem.table[problem.condition[c]];
    const shown = Array.from({ length: problem.results[c] }, () => new Float64Array(problem.F));
    const sharpness = new Float64Array(problem.F);
    for (let f = 0; f < problem.F; f++) {
      for (let r = 0; r < shown.length; r++) {
        let chance = 0;
        for (let s = 0; s < rows[f].length; s++) chance += rows[f][s] * problem.shows[c][s][r];
        shown[r][f] = chance;
        if (chance > 0) sharpness[f] += chance * Math.log(chance);
      }
    }
    expects.push(shown);
    sharp.push(sharpness);
  }
  const cured = problem.missed.map((row) => [...row.keys()].filter((f) => row[f] < 1));
  return { ...problem, expects, sharp, cured, ...variantsOf(problem) };
}

/** The variants of each fix, the cheapest first, and which those are. */
function variantsOf({ group, fixCost }) {
  const members = [];
  for (const [a, g] of group.entries()) (members[g] ??= []).push(a);
  for (const each of members) each.sort((one, other) => fixCost[one] - fixCost[other] || one - other);
  const leads = group.map((g, a) => members[g][0] === a);
  return { members, leads };
}

/** What the setups in a mask cost. */
export function setupsCost(p, missing) {
  let cost = 0;
  for (let k = 0; k < p.setupCost.length; k++) if (missing & p.setupBits[k]) cost += p.setupCost[k];
  return cost;
}

const isSeen = (state, g) => state.seen[g].some((share) => share !== 1);

/** `P(state, fault, result)` of a check, a row for each result. */
export function resultsOf(p, state, c) {
  const g = p.condition[c];
  const joint = Array.from({ length: p.results[c] }, () => new Float64Array(p.F));
  if (!isSeen(state, g)) {
    for (let r = 0; r < joint.length; r++) {
      for (let f = 0; f < p.F; f++) joint[r][f] = state.b[f] * p.expects[c][r][f];
    }
    return joint;
  }
  const seen = state.seen[g];
  for (let f = 0; f < p.F; f++) {
    const states = p.table[g][f];
    let total = 0;
    for (let s = 0; s < states.length; s++) {
      const mass = states[s] * seen[s];
      total += mass;
      for (let r = 0; r < joint.length; r++) joint[r][f] += mass * p.shows[c][s][r];
    }
    for (const row of joint) row[f] = total > 0 ? (row[f] * state.b[f]) / total : 0;
  }
  return joint;
}

/** Mutual information of fault and result times `P(state)`, in nats. */
function information(p, state, c, joint) {
  const total = sumOf(state.b);
  let gain = 0;
  if (isSeen(state, p.condition[c])) {
    for (const row of joint) {
      for (let f = 0; f < p.F; f++) if (row[f] > 0) gain += row[f] * Math.log(row[f] / state.b[f]);
    }
  } else {
    for (let f = 0; f < p.F; f++) gain += state.b[f] * p.sharp[c][f];
  }
  for (const row of joint) {
    const share = sumOf(row);
    if (share > 0) gain -= share * Math.log(share / total);
  }
  return Math.max(gain, 0);
}

/** What a check or fix tells of the fault, in bits. */
export function bitsOf(p, state, action) {
  const total = sumOf(state.b);
  if (action < p.C) return information(p, state, action, resultsOf(p, state, action)) / total / Math.LN2;
  const a = action - p.C;
  const caught = sumOf(caughtBy(p, state.b, a)) / total;
  const sharp = (share) => (share > 0 ? share * Math.log(share) : 0);
  let gain = -sharp(caught) - sharp(1 - caught);
  for (let f = 0; f < p.F; f++) {
    const still = p.missed[a][f] * p.detects[a][f];
    gain += (state.b[f] / total) * (sharp(still) + sharp(1 - still));
  }
  return Math.max(gain, 0) / Math.LN2;
}

/** The belief (times its probability) after a fix whose retest showed the complaint. */
export const caughtBy = (p, b, a) => b.map((each, f) => each * p.missed[a][f] * p.detects[a][f]);

/** Whether each variant's fix was tried, with whatever soak. */
const triedFixes = (p, failed) => failed.map((_, a) => p.members[p.group[a]].some((one) => failed[one]));

/** What stands before each fix: 0 if nothing, what its checks cost, `Infinity` if it failed or is shut. */
export function usableFixes(p, digits, failed) {
  const tried = triedFixes(p, failed);
  return tried.map((done, a) => (done ? Infinity : standsBefore(p, digits, p.C + a)));
}

function standsBefore(p, digits, action) {
  let before = 0;
  for (const { check, open } of p.gates[action]) {
    if (digits[check] === 0) before += p.checkCost[check];
    else if (!open[digits[check] - 1]) before = Infinity;
  }
  return before;
}

/** Expected cost of the usable fixes alone, best ratio of cure to cost first, then the return. */
function fixesOnly(p, b, usable, standingNow, hopeless, sequence = []) {
  const left = Float64Array.from(b);
  const open = [...usable];
  const reach = [sumOf(left)];
  const cost = [];
  const bad = [];
  let standing = standingNow;
  while (cost.length < p.A && reach.at(-1) > NEGLIGIBLE * reach[0]) {
    const found = bestFix(p, left, open, standing, (hopeless * reach.at(-1)) / Math.max(p.giveUp, 1e-9));
    if (found === null) break;
    const best = bestVariant(p, left, p.group[found.fix]);
    cost.push(found.price + p.fixCost[best] - p.fixCost[found.fix]);
    sequence.push(best);
    open[found.fix] = Infinity;
    standing |= p.fixSetups[best];
    let slipped = 0;
    for (let f = 0; f < p.F; f++) {
      const uncured = left[f] * p.missed[best][f];
      left[f] = uncured * p.detects[best][f];
      slipped += uncured - left[f];
    }
    bad.push(slipped);
    reach.push(sumOf(left));
  }
  let lowest = reach[cost.length] * p.giveUp;
  let length = cost.length;
  for (let k = cost.length - 1; k >= 0; k--) {
    lowest += reach[k] * cost[k] + bad[k] * p.comeback;
    if (reach[k] * p.giveUp <= lowest) [lowest, length] = [reach[k] * p.giveUp, k];
  }
  sequence.length = length;
  return lowest;
}

/** The fix with the best ratio of cure to cost, above a least one. */
function bestFix(p, left, open, standing, least) {
  let found = null;
  let highest = least;
  for (let a = 0; a < p.A; a++) {
    if (!p.leads[a] || open[a] === Infinity) continue;
    let cured = 0;
    for (const f of p.cured[a]) cured += left[f] * (1 - p.missed[a][f]);
    const own = open[a] + p.fixCost[a] + setupsCost(p, p.fixSetups[a] & ~standing);
    if (cured > highest * own) [found, highest] = [{ fix: a, price: own }, cured / own];
  }
  return found;
}

/** The variant of a fix that costs least if the board is returned after a failure. */
function bestVariant(p, b, group) {
  const members = p.members[group];
  if (members.length === 1) return members[0];
  const reach = sumOf(b);
  let best = members[0];
  let lowest = Infinity;
  for (const a of members) {
    let cost = reach * p.fixCost[a];
    for (let f = 0; f < p.F; f++) {
      cost += b[f] * p.missed[a][f] * (1 - p.detects[a][f]) * (p.comeback - p.giveUp);
    }
    if (cost < lowest) [best, lowest] = [a, cost];
  }
  return best;
}

/** Expected cost if the fault were named now: the best single fix for it, or the return. */
function toldNow(p, b, usable, standing) {
  const lowest = new Float64Array(p.F).fill(p.giveUp);
  for (let a = 0; a < p.A; a++) {
    if (usable[a] === Infinity) continue;
    const own = usable[a] + p.fixCost[a] + setupsCost(p, p.fixSetups[a] & ~standing);
    for (const f of p.cured[a]) {
      const caught = p.missed[a][f] * p.detects[a][f];
      const slips = p.missed[a][f] - caught;
      lowest[f] = Math.min(lowest[f], own + slips * p.comeback + caught * p.giveUp);
    }
  }
  return sumOf(lowest.map((cost, f) => b[f] * cost));
}

const TOLD = 0.3;

/** The mixed estimate of what a state costs. */
export function estimate(p, b, usable, standing) {
  const alone = fixesOnly(p, b, usable, standing, HOPELESS);
  return (1 - TOLD) * alone + TOLD * toldNow(p, b, usable, standing);
}

/** Fixes alone, then the return, if only some faults were possible: the cost and the fixes in order. */
export function knownFaults(p, state, faults) {
  const order = [];
  const only = state.b.map((each, f) => (faults.includes(f) ? each : 0));
  const cost = fixesOnly(p, only, usableFixes(p, state.digits, state.failed), state.standing, 0, order);
  return { cost, order };
}

/** `{joint, rest}` after each result of an action: beliefs, and the estimated cost times its chance. */
export function after(p, state, action) {
  if (action >= p.C) return afterFix(p, state, action - p.C);
  const joint = resultsOf(p, state, action);
  const standing = state.standing | p.checkSetups[action];
  const rest = joint.map((row, r) => {
    const digits = replaced(state.digits, action, r + 1);
    return estimate(p, row, usableFixes(p, digits, state.failed), standing);
  });
  return { joint, rest };
}

function afterFix(p, state, a) {
  const still = caughtBy(p, state.b, a);
  const gone = state.b.map((each, f) => each - still[f]);
  const usable = usableFixes(p, state.digits, replaced(state.failed, a, true));
  const rest = [estimate(p, still, usable, state.standing | p.fixSetups[a]), 0];
  return { joint: [still, gone], rest };
}

/** What stands before each action: 0 if nothing, what opens its gates, `Infinity` for ever. */
function beforeActions(p, state) {
  const tried = triedFixes(p, state.failed);
  const before = [...state.digits.map((digit) => digit > 0), ...tried].map((done, action) =>
    done ? Infinity : standsBefore(p, state.digits, action),
  );
  for (let changed = true; changed; ) {
    changed = false;
    for (let action = 0; action < before.length; action++) {
      const shut = p.gates[action].some(({ check }) => state.digits[check] === 0 && before[check] === Infinity);
      if (shut && before[action] < Infinity) [before[action], changed] = [Infinity, true];
    }
  }
  return before;
}

/** Information per cost of each check; -1 where there is none. */
function gainsOf(p, state, before) {
  const reach = sumOf(state.b);
  return state.digits.map((_, c) => {
    if (before[c] === Infinity) return -1;
    const told = information(p, state, c, resultsOf(p, state, c));
    if (told <= NEGLIGIBLE * reach) return -1;
    const setups = setupsCost(p, p.checkSetups[c] & ~state.standing);
    return told / (p.checkCost[c] + setups + before[c] + 1e-9);
  });
}

/** Chance to cure per cost of each fix, of its cheapest variant; 0 of the others. */
function ratiosOf(p, state, before) {
  return state.failed.map((_, a) => {
    if (!p.leads[a]) return 0;
    let ratio = 0;
    for (const f of p.cured[a]) ratio += state.b[f] * (1 - p.missed[a][f]);
    const setups = setupsCost(p, p.fixSetups[a] & ~state.standing);
    return ratio / (p.fixCost[a] + setups + before[p.C + a] + 1e-9);
  });
}

const highest = (worth, most) =>
  [...worth.keys()].filter((k) => worth[k] > 0).sort((one, other) => worth[other] - worth[one] || one - other).slice(0, most);

function checkCost(p, state, c) {
  const reach = sumOf(state.b);
  const missing = p.checkSetups[c] & ~state.standing;
  const { joint, rest } = after(p, state, c);
  let cost = reach * (p.checkCost[c] + setupsCost(p, missing));
  for (let r = 0; r < joint.length; r++) if (sumOf(joint[r]) > NEGLIGIBLE * reach) cost += rest[r];
  return cost;
}

/** The best variant of a fix and what it is estimated to cost first. */
function fixCost(p, state, lead, usable) {
  const reach = sumOf(state.b);
  const variants = p.members[p.group[lead]];
  const standing = state.standing | p.fixSetups[lead];
  const open = usable.map((before, a) => (variants.includes(a) ? Infinity : before));
  let best = lead;
  let lowest = Infinity;
  for (const a of variants) {
    const uncured = state.b.map((each, f) => each * p.missed[a][f]);
    const caught = uncured.map((each, f) => each * p.detects[a][f]);
    const cost =
      reach * (p.fixCost[a] + setupsCost(p, standing & ~state.standing)) +
      sumOf(uncured.map((each, f) => each - caught[f])) * p.comeback +
      estimate(p, caught, open, standing);
    if (cost < lowest) [best, lowest] = [a, cost];
  }
  return [best, lowest];
}

/** The action itself if it is allowed, else the check to do first on the way to it. */
function openerOf(p, digits, wanted) {
  let action = wanted;
  for (;;) {
    const shut = p.gates[action].find(({ check }) => digits[check] === 0);
    if (shut === undefined) return action;
    action = shut.check;
  }
}

/** Estimated cost of each action first; `Infinity` where not allowed or not looked at. */
export function rankedCosts(p, state, most) {
  const before = beforeActions(p, state);
  const reach = sumOf(state.b);
  const direct = new Map();
  for (const c of highest(gainsOf(p, state, before), most)) direct.set(c, checkCost(p, state, c));
  const usable = usableFixes(p, state.digits, state.failed);
  for (const lead of highest(ratiosOf(p, state, before), most)) {
    const [a, cost] = fixCost(p, state, lead, usable);
    direct.set(p.C + a, cost);
  }
  const worth = new Float64Array(p.C + p.A).fill(Infinity);
  for (const [action, cost] of direct) {
    const first = openerOf(p, state.digits, action);
    worth[first] = Math.min(worth[first], cost + reach * before[action]);
  }
  return worth;
}
