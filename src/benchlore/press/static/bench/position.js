/**
 * Where a job stands: what is believed, what may still be done, what stands: `benchlore.procedure.position`.
 *
 * A situation is `{evidence, setups, unclear, skipped, without, budget}`: setups and unclear checks as indices,
 * skipped checks and fixes and missing equipment as names, the budget an amount or null.
 */

import { maxOf, outlayOf, sumOf } from "./model.js";
import { conflict, gateOpen, posterior, setAside, stateLogs, without } from "./posterior.js";
import { problemOf } from "./state.js";

export const DONE = "done";
export const TRIED = "tried";
const SKIPPED = "skipped";
const UNCLEAR = "its reading was unclear";
const OVER_BUDGET = "would spend";
const CURES_NOTHING = "cures no fault of this complaint";

/** A model with everything that does not depend on the job. */
export function prepare(model) {
  const problem = problemOf(model);
  const shown = model.checks.map((check) =>
    check.shows.some((row) => row.some((each, r) => each !== check.shows[0][r])),
  );
  const equipment = model.data.equipment;
  return { model, problem, shown, equipment };
}

/** The checks that were read. */
const readIn = (evidence) => [...evidence.readings, ...evidence.values].map(([check]) => check);

/** Place a job; where no fault allows the evidence, the best explanation counts. */
export function positionOf(prepared, situation) {
  const { model } = prepared;
  const { passed } = situation.evidence;
  let certain = { ...situation.evidence, passed: [] };
  let belief = posterior(model, certain);
  let clash = null;
  let aside = null;
  if (belief.logEvidence === -Infinity) {
    [clash, aside] = [conflict(model, certain), setAside(model, certain)];
    certain = without(certain, aside);
    belief = posterior(model, certain);
  }
  const { faults, odd } = cameBack(belief.faults, model, passed);
  if (odd.length > 0) {
    const none = { readings: [], values: [], failed: [], passed: [] };
    [clash, aside] = [{ ...(clash ?? none), passed: odd }, { ...(aside ?? none), passed: odd }];
  }
  const seen = seenIn(model, certain, faults);
  const base = {
    prepared,
    situation,
    certain,
    clash,
    aside,
    shown: prepared.shown,
    states: statesGiven(model, seen),
    state: { b: faults, seen, digits: [], failed: [], standing: standingIn(model, situation) },
  };
  return equipped(base, prepared.equipment.filter((name) => !situation.without.includes(name)));
}

/** Believe that fixes did not cure although their retests showed nothing. */
function cameBack(prior, model, passed) {
  const odd = [];
  let belief = prior;
  for (const fix of [...new Set(passed)].sort((one, other) => one - other)) {
    const uncured = belief.map((each, f) => each * (1 - model.fixes[fix].cures[f]));
    const overlooked = uncured.map((each, f) => each * (1 - model.detects[f]));
    const likely = sumOf(overlooked) > 0 ? overlooked : uncured;
    const total = sumOf(likely);
    if (total > 0) belief = likely.map((each) => each / total);
    else odd.push(fix);
  }
  return { faults: belief, odd };
}

function standingIn(model, { evidence, unclear, setups }) {
  let standing = model.nothing;
  for (const check of [...readIn(evidence), ...unclear]) standing |= model.checks[check].setups;
  for (const fix of [...evidence.failed, ...evidence.passed]) standing |= model.fixes[fix].setups;
  for (const setup of setups) standing |= model.setups[setup].needs;
  return standing;
}

/** `P(readings | state)` of each condition up to a factor; ones where nothing was read. */
function seenIn(model, evidence, belief) {
  const logs = stateLogs(model, evidence);
  return model.conditions.map((condition, g) => {
    if (!logs.has(g)) return condition.states.map(() => 1);
    const here = [...logs.get(g)];
    const possible = here.map((_, s) => condition.table.some((row, f) => belief[f] > 0 && row[s] > 0));
    const high = maxOf(here.map((log, s) => (possible[s] ? log : -Infinity)));
    return here.map((log) => Math.exp(Math.min(log - high, 0)));
  });
}

/** `P(state | fault, evidence)`; a fault that the readings exclude keeps its row. */
const statesGiven = (model, seen) =>
  model.conditions.map((condition, g) =>
    condition.table.map((row) => {
      const joint = row.map((each, s) => each * seen[g][s]);
      const total = sumOf(joint);
      return total > 0 ? joint.map((each) => each / total) : row;
    }),
  );

/** The position in which this equipment is there. */
export function equipped(position, equipment) {
  const { prepared, situation, state } = position;
  const { why, waits } = settled(position, excludedWith(prepared.model, equipment));
  overBudget(prepared.model, situation, state.standing, why);
  blockWhatWaits(prepared.model, why, waits);
  return masked({ ...position, waits }, why);
}

/** The position in which some more actions cannot be done, by their reasons. */
export function blocking(position, reasons) {
  const why = position.why.map((reason, k) => reasons.get(k) ?? reason);
  blockWhatWaits(position.prepared.model, why, position.waits);
  return masked(position, why);
}

/** Tell the kernels what cannot be done: it counts as done already. */
function masked(position, why) {
  const { problem: whole, model } = position.prepared;
  const count = whole.C;
  const blocked = why.map((reason) => reason !== "");
  const isOpen = whole.members.map((members) => members.some((a) => !blocked[count + a]));
  const failed = whole.group.map((g) => !isOpen[g]);
  const read = new Set(readIn(position.situation.evidence));
  const problem = {
    ...whole,
    fixCost: whole.fixCost.map((cost, a) => (blocked[count + a] && !failed[a] ? Infinity : cost)),
    gates: whole.gates.map((gates) => gates.filter(({ check }) => !read.has(check))),
  };
  const digits = model.checks.map((_, c) => (blocked[c] ? 1 : 0));
  return { ...position, why, problem, state: { ...position.state, digits, failed } };
}

/** Why actions cannot be done by themselves, and which gates of the others wait. */
function settled({ prepared, situation, certain }, excluded) {
  const { model } = prepared;
  const { evidence } = situation;
  const read = new Set(readIn(evidence));
  const tried = new Set([...evidence.failed, ...evidence.passed].map((a) => model.fixes[a].name));
  const skipped = new Set(situation.skipped);
  const why = [...excluded];
  const waits = new Map();
  for (const [k, { gates, name }] of model.options.entries()) {
    if (gates.length > 0) {
      waits.set(k, gates.filter((gate) => !read.has(gate.check)));
      const shut = gates.find((gate) => read.has(gate.check) && !isOpen(model, certain, gate));
      why[k] = why[k] || shutBy(model, certain, shut);
    }
    if (skipped.has(name)) why[k] = excluded[k] || SKIPPED;
    if (k >= model.checks.length && tried.has(name)) why[k] = TRIED;
  }
  for (const c of situation.unclear) why[c] = UNCLEAR;
  for (const c of read) why[c] = DONE;
  return { why, waits };
}

const readingOf = (pairs, check) => pairs.find(([read]) => read === check);

function isOpen(model, certain, gate) {
  const named = readingOf(certain.readings, gate.check);
  if (named) return gate.results.includes(named[1]);
  const number = readingOf(certain.values, gate.check);
  return number !== undefined && gateOpen(model, gate, number[1]);
}

function shutBy(model, certain, gate) {
  if (gate === undefined) return "";
  const { name } = model.checks[gate.check];
  if (readIn(certain).includes(gate.check)) return `'${name}' showed what forbids it`;
  return `only after '${name}', whose reading does not go with the others`;
}

/** Hold back what would spend more than is left, with the setups that it still needs. */
function overBudget(model, { budget }, standing, why) {
  if (budget === null) return;
  for (const [k, option] of model.options.entries()) {
    const missing = option.setups & ~standing;
    let spends = outlayOf(option.cost);
    for (const [n, setup] of model.setups.entries()) if (missing & model.bits[n]) spends += outlayOf(setup.cost);
    if (spends > budget + 1e-9) {
      why[k] = why[k] || `${OVER_BUDGET} ${spends.toFixed(2)} ${model.data.currency}, more than is left`;
    }
  }
}

/** Block what waits for a check that cannot be done any more. */
function blockWhatWaits(model, why, waits) {
  for (let changed = true; changed; ) {
    changed = false;
    for (const [k, gates] of waits) {
      const shut = gates.find((gate) => why[gate.check] !== "");
      if (why[k] !== "" || shut === undefined) continue;
      const because = why[shut.check] === UNCLEAR ? "whose reading was unclear" : "which cannot be done";
      why[k] = `only after '${model.checks[shut.check].name}', ${because}`;
      changed = true;
    }
  }
}

/** Why each action cannot be done with some equipment, "" where it can. */
function excludedWith(model, equipment) {
  const there = new Set(equipment);
  const missing = (needs) => needs.filter((name) => !there.has(name));
  const isUnreachable = (c, asked) =>
    asked.includes(c) ||
    missing(model.checks[c].equipment).length > 0 ||
    model.checks[c].gates.some((gate) => isUnreachable(gate.check, [...asked, c]));
  const reason = ({ equipment: needs, gates }) => {
    if (missing(needs).length > 0) return `needs ${missing(needs).join(", ")}`;
    const shut = gates.find((gate) => isUnreachable(gate.check, []));
    return shut ? `only after '${model.checks[shut.check].name}', which cannot be done` : "";
  };
  const retest = missing(model.data.retest.equipment);
  return model.options.map((option, k) => {
    if (k < model.checks.length) return reason(option);
    if (retest.length > 0) return `the retest needs ${retest.join(", ")}`;
    const cures = option.cures.some((cure, f) => cure > 0 && model.prior[f] > 0);
    return reason(option) || (cures ? "" : CURES_NOTHING);
  });
}
