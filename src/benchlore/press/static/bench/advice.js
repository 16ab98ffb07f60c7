/**
 * The best next step from anywhere, and why: `benchlore.procedure.next`.
 *
 * Where the table of what can still matter fits a megabyte the ranking is exact, else it looks one step ahead
 * and estimates what follows; on the planned path the procedure's own step comes first, as it looked deeper.
 */

import { alikeOf } from "./alike.js";
import { reducedAt, sweptTable } from "./exact.js";
import { goOn } from "./goingon.js";
import { costOf, replaced, sumOf, totalOf } from "./model.js";
import { DONE, TRIED, blocking, positionOf } from "./position.js";
import { resultOf } from "./posterior.js";
import { after, bitsOf, rankedCosts } from "./state.js";

const EXACT_BYTES = 1 << 20;
const LOOKED_AT = 24;
const DETAILED = 8;
const SUSPECTS = 5;
const RELEASE = -1;
const RETURNED = -1;
const STILL_THERE = "still there";
const GONE = "gone";

/** What each action costs first, `costs`, and what follows it, `after`. */
export function rankingOf(position, memory = EXACT_BYTES) {
  const { problem, state } = position;
  const estimated = (action) => after(problem, state, action);
  const found = reducedAt(position, memory);
  if (found === null) {
    const costs = rankedCosts(problem, state, LOOKED_AT);
    return { method: "look-ahead", costs, after: estimated };
  }
  const { checks, fixes, small } = found;
  const table = sweptTable(small);
  const costs = new Float64Array(problem.C + problem.A).fill(Infinity);
  for (const [k, c] of checks.entries()) costs[c] = table.costs[k];
  for (const [k, a] of fixes.entries()) costs[problem.C + a] = table.costs[checks.length + k];
  const exactly = (action) => {
    const { joint, rest } = estimated(action);
    const check = checks.indexOf(action);
    const fix = fixes.indexOf(action - problem.C);
    if (action < problem.C && check >= 0) return { joint, rest: rest.map((_, r) => table.afterCheck(check, r)) };
    return fix >= 0 ? { joint, rest: replaced(rest, 0, table.afterFix(fix)) } : { joint, rest };
  };
  return { method: "exact", costs, after: exactly };
}

const least = (costs) => costs.reduce((low, each) => Math.min(low, each), Infinity);

/** The most probable faults, `[{fault, probability}]`. */
function suspectsOf(weights, most = SUSPECTS) {
  const total = sumOf(weights);
  if (total <= 0) return [];
  const order = [...weights.keys()].filter((f) => weights[f] > 0);
  order.sort((one, other) => weights[other] - weights[one] || one - other);
  return order.slice(0, most).map((fault) => ({ fault, probability: weights[fault] / total }));
}

/** Rank what can be done next in a situation; `plan` is the procedure's steps, or null. */
export function advise(prepared, situation, plan = null, memory = EXACT_BYTES) {
  const position = positionOf(prepared, situation);
  const ranking = rankingOf(position, memory);
  const planned = plan === null ? null : plannedAt(position, plan);
  const options = optionsAt(position, ranking, plan, planned);
  const { state } = position;
  const [best] = options;
  return {
    belief: state.b,
    suspects: suspectsOf(state.b, state.b.length),
    options,
    heldBack: heldBackAt(position),
    conflict: namesIn(prepared.model, position.clash),
    setAside: namesIn(prepared.model, position.aside),
    method: ranking.method,
    knowing: best.kind === "check" ? knowing(position, ranking, best, memory) : null,
    alike: alikeOf(position),
    goOn: best.kind === "return" ? goOn(position, (there) => rankingOf(there, memory).costs) : null,
  };
}

/** The value of knowing a check's result (Howard 1966); null where the ranking did not look at it. */
function knowing(position, ranking, best, memory) {
  const cost = ranking.costs[best.place];
  if (cost === Infinity) return null;
  const { giveUp } = position.problem;
  const opens = [...position.waits.values()].some((gates) => gates.some((gate) => gate.check === best.place));
  let never;
  if (opens || ranking.method === "exact") {
    never = least(rankingOf(blocking(position, new Map([[best.place, "not to be made"]])), memory).costs);
  } else {
    never = least(ranking.costs.filter((_, k) => k !== best.place));
  }
  return Math.max(0, Math.min(never, giveUp) - (cost - totalOf(best.cost)));
}

/** What cannot be done now, `[name, why]`; for a fix its cheapest soak speaks. */
function heldBackAt({ prepared, problem, why, waits }) {
  const { model } = prepared;
  const held = [];
  for (const [k, { name }] of model.options.entries()) {
    if (k >= problem.C && !prepared.problem.leads[k - problem.C]) continue;
    const [gate] = waits.get(k) ?? [];
    if (why[k] !== "" && why[k] !== DONE && why[k] !== TRIED) held.push([name, why[k]]);
    else if (why[k] === "" && gate !== undefined) held.push([name, `only after '${model.checks[gate.check].name}'`]);
  }
  return held;
}

function namesIn(model, evidence) {
  if (evidence === null) return [];
  const checks = [...evidence.readings, ...evidence.values].map(([check]) => model.checks[check].name);
  return [...checks, ...[...evidence.failed, ...evidence.passed].map((fix) => model.fixes[fix].name)];
}

/** The plan's step, where the job stands on its path and nothing forbids it. */
function plannedAt({ prepared, situation, state, why, aside }, plan) {
  const { model } = prepared;
  const { evidence, unclear, skipped, without } = situation;
  const off = unclear.length + skipped.length + without.length + evidence.passed.length > 0;
  if (off || situation.budget !== null || aside !== null) return null;
  const readings = new Map(evidence.readings.map(([c, r]) => [model.checks[c].name, model.checks[c].results[r]]));
  for (const [c, value] of evidence.values) {
    readings.set(model.checks[c].name, model.checks[c].results[resultOf(model.checks[c], value)]);
  }
  const failed = evidence.failed.map((a) => model.fixes[a].name);
  const path = pathTo(plan, readings, failed);
  if (path === null) return null;
  const step = path.at(-1);
  const made = new Set(path.slice(0, -1).flatMap((each) => each.setups));
  const stands = setupsIn(model, state.standing);
  if (stands.length !== made.size || stands.some((name) => !made.has(name))) return null;
  if (step.kind === "return") return { step, place: RETURNED };
  const place = placeOf(model, step);
  return place >= 0 && why[place] === "" ? { step, place } : null;
}

function pathTo(plan, readings, failed) {
  const path = [];
  let step = plan[0];
  for (;;) {
    path.push(step);
    let result = null;
    if (step.kind === "check") result = readings.get(step.action) ?? null;
    if (step.kind === "fix" && failed.includes(step.action)) result = STILL_THERE;
    if (result === null) return path.length - 1 === readings.size + failed.length ? path : null;
    const branch = step.branches.find((each) => each.result === result);
    if (branch === undefined || branch.to === RELEASE || branch.to === null) return null;
    step = plan[branch.to];
  }
}

const placeOf = (model, step) =>
  model.options.findIndex(
    (option, k) =>
      option.name === step.action &&
      (k < model.checks.length ? step.kind === "check" : step.kind === "fix" && option.soak === step.soak),
  );

/** Names of the setups in a mask, in the order in which to make them. */
function setupsIn(model, mask) {
  const bits = (number) => number.toString(2).replaceAll("0", "").length;
  const order = [...model.setups.keys()].sort(
    (one, other) => bits(model.setups[one].needs) - bits(model.setups[other].needs) || one - other,
  );
  return order.filter((k) => mask & model.bits[k]).map((k) => model.setups[k].name);
}

/** Every option, best first, the plan's step first of all; the first few with their results. */
function optionsAt(position, ranking, plan, planned) {
  const { prepared, problem } = position;
  const { options } = prepared.model;
  const costs = ranking.costs.slice();
  if (planned !== null && planned.place >= 0) costs[planned.place] = -Infinity;
  for (const members of prepared.problem.members) {
    const places = members.map((a) => problem.C + a);
    const best = places.reduce((one, other) => (costs[other] < costs[one] ? other : one));
    for (const place of places) if (place !== best) costs[place] = Infinity;
  }
  const ranked = [...costs.keys()].filter((k) => costs[k] < Infinity);
  const rounded = costs.map((cost) => Number(cost.toPrecision(9)));
  const keys = ranked.map((k) => [rounded[k], k < problem.C, options[k].name]);
  const order = [...ranked.keys()].sort((one, other) => inOrder(keys[one], keys[other]));
  ranked.splice(0, ranked.length, ...order.map((n) => ranked[n]));
  const limit = Number(problem.giveUp.toPrecision(9));
  const back = ranked.filter((k) => rounded[k] < limit).length;
  ranked.splice(planned?.place === RETURNED ? 0 : back, 0, RETURNED);
  return ranked.map((place, n) => {
    const own = n === 0 && planned !== null ? planned : null;
    return place === RETURNED ? returned(problem.giveUp, own) : optionAt(position, ranking, plan, own, place, n < DETAILED);
  });
}

/** Compare keys, the first difference deciding: costs, a fix before a check, names. */
function inOrder(one, other) {
  const place = one.findIndex((each, k) => each !== other[k]);
  if (place < 0) return 0;
  return one[place] < other[place] ? -1 : 1;
}

const returned = (giveUp, own) => ({
  kind: "return",
  place: RETURNED,
  action: "",
  soak: 0,
  setups: [],
  cost: costOf({ lost_worth: giveUp }),
  expected: giveUp,
  ranked: giveUp,
  information: 0,
  outlooks: [],
  method: own ? "plan" : "exact",
});

function optionAt(position, ranking, plan, own, place, isDetailed) {
  const { prepared, problem, state } = position;
  const { model } = prepared;
  const isFix = place >= problem.C;
  const option = model.options[place];
  const missing = option.setups & ~state.standing;
  const variants = isFix ? prepared.problem.members[problem.group[place - problem.C]].map((a) => problem.C + a) : [place];
  const ranked = Math.min(...variants.map((k) => ranking.costs[k]));
  return {
    kind: isFix ? "fix" : "check",
    place,
    action: option.name,
    soak: isFix ? option.soak : 0,
    setups: setupsIn(model, missing),
    cost: ownCost(position, place, missing),
    expected: own ? own.step.expected : ranked,
    ranked: ranked < Infinity ? ranked : null,
    information: bitsOf(problem, state, place),
    outlooks: isDetailed ? outlooksAt(position, ranking, plan, own, place) : [],
    method: own ? "plan" : ranking.method,
  };
}

/** What an action costs by itself: with the setups it still needs, and the comeback it may bring. */
function ownCost({ prepared, problem, state }, place, missing) {
  const option = prepared.model.options[place];
  const cost = { ...option.cost };
  for (const [k, setup] of prepared.model.setups.entries()) {
    if (missing & prepared.model.bits[k]) {
      cost.setups += setup.cost.setups;
      cost.risk += setup.cost.risk;
    }
  }
  if (place >= problem.C) {
    const slips = state.b.map((each, f) => each * option.missed[f] * (1 - option.detects[f]));
    cost.comeback = (sumOf(slips) / sumOf(state.b)) * problem.comeback;
  }
  return cost;
}

function outlooksAt({ prepared, problem, state }, ranking, plan, own, place) {
  const { joint, rest } = ranking.after(place);
  const names = place < problem.C ? prepared.model.checks[place].results : [STILL_THERE, GONE];
  const reach = sumOf(state.b);
  const quoted = (result, estimated) => {
    const branch = own.step.branches.find((each) => each.result === result);
    if (branch?.to === null) return estimated;
    return branch === undefined || branch.to === RELEASE ? 0 : plan[branch.to].expected;
  };
  return names.map((result, r) => {
    const chance = sumOf(joint[r]);
    const expected = chance > 0 ? rest[r] / chance : 0;
    return { result, chance: chance / reach, expected: own ? quoted(result, expected) : expected, suspects: suspectsOf(joint[r]) };
  });
}
