/**
 * Beliefs about faults, exactly, from readings and from fixes that were tried: `benchlore.model.posterior`.
 *
 * Evidence is `{readings: [[check, result]], values: [[check, number]], failed: [fix], passed: [fix]}` in
 * indices; over range is `Infinity`. Fixes are those of the model, without their soaks.
 */

import { maxOf, sumOf } from "./model.js";

const SMALL = 1e-290;
const FARTHEST = 1e150;
const TIE = 1e-9;
const RULED_OUT = 0.1;

/** `log p(number | s)` of a numeric check. */
function numberLog(check, s, number) {
  const { student, slip, log_number: logNumber, log_normal: logNormal } = check.numbers;
  if (number === Infinity) return logOf(student[5][s]);
  if (logNormal && number <= 0) return Math.log(check.shows[s][0]);
  const y = logNormal ? Math.log(number) : number;
  const t = Math.min(Math.abs(y - student[0][s]) / student[1][s], FARTHEST);
  const body = logOf(student[4][s]) - student[2][s] * Math.log1p((t * t) / student[3][s]);
  const z = Math.min(Math.abs(y - slip[0]) / slip[1], FARTHEST);
  const blunder = logOf(logNumber[s]) + slip[2] - (z * z) / 2;
  const high = Math.max(body, blunder);
  return high === -Infinity ? high : high + Math.log1p(Math.exp(Math.min(body, blunder) - high));
}

/** JSON has no infinity: a logarithm of nothing is written as null. */
const logOf = (written) => (written === null ? -Infinity : written);

const stateLog = (check, s, result, number) =>
  result === null ? numberLog(check, s, number) : Math.log(check.shows[s][result]);

const readingsOf = (evidence) => [
  ...evidence.readings.map(([check, result]) => [check, result, 0]),
  ...evidence.values.map(([check, number]) => [check, null, number]),
];

/** `log P(readings | state)` of each condition that was read, by condition. */
export function stateLogs(model, evidence) {
  const logs = new Map();
  for (const [c, result, number] of readingsOf(evidence)) {
    const check = model.checks[c];
    if (!logs.has(check.condition)) {
      logs.set(check.condition, new Float64Array(model.conditions[check.condition].states.length));
    }
    const here = logs.get(check.condition);
    for (let s = 0; s < here.length; s++) here[s] += stateLog(check, s, result, number);
  }
  return logs;
}

/** `log sum_s P(s | f) exp(logs[s])`. */
function conditionLog(table, logs, high) {
  if (high === -Infinity) return high;
  let likelihood = 0;
  for (let s = 0; s < logs.length; s++) likelihood += table[s] * Math.exp(logs[s] - high);
  if (likelihood > SMALL) return high + Math.log(likelihood);
  const joint = [...logs].map((log, s) => (table[s] > 0 ? Math.log(table[s]) + log : -Infinity));
  const top = maxOf(joint);
  return top === -Infinity ? top : top + Math.log(sumOf(joint.map((each) => Math.exp(each - top))));
}

/** `log P(evidence | f)` of each fault. */
export function faultLogs(model, evidence) {
  const total = new Float64Array(model.prior.length);
  for (const [g, logs] of stateLogs(model, evidence)) {
    const high = maxOf(logs);
    for (let f = 0; f < total.length; f++) total[f] += conditionLog(model.conditions[g].table[f], logs, high);
  }
  for (let f = 0; f < total.length; f++) {
    for (const a of evidence.failed) total[f] += Math.log((1 - model.fixes[a].cures[f]) * model.detects[f]);
    for (const a of evidence.passed) {
      const cure = model.fixes[a].cures[f];
      total[f] += Math.log(cure + (1 - cure) * (1 - model.detects[f]));
    }
  }
  return total;
}

/** `{faults, logEvidence}`: the prior and `-Infinity` where no fault allows the evidence. */
export function posterior(model, evidence) {
  const logs = faultLogs(model, evidence).map((log, f) => log + Math.log(model.prior[f]));
  const high = maxOf(logs);
  if (high === -Infinity) return { faults: model.prior, logEvidence: -Infinity };
  const belief = logs.map((log) => Math.exp(log - high));
  const total = sumOf(belief);
  return { faults: belief.map((each) => each / total), logEvidence: high + Math.log(total) };
}

const KINDS = ["readings", "values", "failed", "passed"];

const nothing = () => ({ readings: [], values: [], failed: [], passed: [] });

const isImpossible = (model, evidence) =>
  faultLogs(model, evidence).every((log, f) => log === -Infinity || model.prior[f] === 0);

/** A part of the evidence that no fault allows and that loses this if anything is left out. */
export function conflict(model, evidence) {
  if (!isImpossible(model, evidence)) return nothing();
  let left = evidence;
  for (const kind of KINDS) {
    for (const piece of left[kind]) {
      const shorter = { ...left, [kind]: left[kind].filter((other) => other !== piece) };
      if (isImpossible(model, shorter)) left = shorter;
    }
  }
  return left;
}

/** The smallest part of the evidence without which a fault allows the rest: `benchlore.model.set_aside`. */
export function setAside(model, evidence) {
  if (posterior(model, evidence).logEvidence > -Infinity) return nothing();
  const pieces = KINDS.flatMap((kind) => evidence[kind].map((piece) => ({ kind, piece })));
  const choices = new Map();
  for (const choice of choicesOf(model, evidence, pieces)) {
    const bad = pieces.filter((each) => choice.has(each));
    choices.set(pieces.map((each) => (choice.has(each) ? "1" : "0")).join(""), bad);
  }
  const fewest = Math.min(...[...choices.values()].map((bad) => bad.length));
  const parts = [...choices.values()].filter((bad) => bad.length === fewest).map(evidenceFrom);
  const ranked = parts.map((part) => ({
    part,
    log: Number(posterior(model, without(evidence, part)).logEvidence.toFixed(9)),
    places: KINDS.map((kind) => part[kind].map((piece) => (Array.isArray(piece) ? piece[0] : piece))),
  }));
  ranked.sort((one, other) => other.log - one.log || -inOrder(one.places, other.places));
  return ranked[0].part;
}

/** Compare nested lists of numbers, the first difference deciding: below 0 if the first comes first. */
function inOrder(one, other) {
  if (!Array.isArray(one)) return one - other;
  for (let k = 0; k < Math.min(one.length, other.length); k++) {
    const found = inOrder(one[k], other[k]);
    if (found !== 0) return found;
  }
  return one.length - other.length;
}

/** The evidence less a part of it. */
export function without(evidence, part) {
  const same = (one, other) => String(one) === String(other);
  return Object.fromEntries(
    KINDS.map((kind) => [
      kind,
      evidence[kind].filter((piece) => !part[kind].some((other) => same(piece, other))),
    ]),
  );
}

function evidenceFrom(pieces) {
  const evidence = nothing();
  for (const { kind, piece } of pieces) evidence[kind].push(piece);
  return evidence;
}

/** For each possible fault the fewest pieces that it does not allow, as sets. */
function* choicesOf(model, evidence, pieces) {
  const rows = new Map();
  const fixes = [];
  for (const each of pieces) {
    const alone = evidenceFrom([each]);
    if (each.kind === "failed" || each.kind === "passed") {
      fixes.push({ each, logs: faultLogs(model, alone) });
      continue;
    }
    const [[g, logs]] = stateLogs(model, alone);
    rows.set(g, [...(rows.get(g) ?? []), { each, logs }]);
  }
  for (let f = 0; f < model.prior.length; f++) {
    if (model.prior[f] === 0) continue;
    const bad = new Set(fixes.filter(({ logs }) => logs[f] === -Infinity).map(({ each }) => each));
    for (const [g, here] of rows) {
      for (const each of fewestOf(model.conditions[g].table[f], here)) bad.add(each);
    }
    yield bad;
  }
}

/** The fewest readings on a condition that stand against some state which a fault may cause. */
function fewestOf(states, here) {
  let best = -1;
  let rank = [Infinity, Infinity];
  for (let s = 0; s < states.length; s++) {
    if (states[s] === 0) continue;
    const kept = here.map(({ logs }) => logs[s]).filter((log) => log > -Infinity);
    const other = [here.length - kept.length, -(Math.log(states[s]) + sumOf(kept))];
    if (other[0] < rank[0] || (other[0] === rank[0] && other[1] < rank[1])) [best, rank] = [s, other];
  }
  return here.filter(({ logs }) => logs[best] === -Infinity).map(({ each }) => each);
}

/** The index of the result into which a number falls; an edge belongs to the band above it. */
export function resultOf(check, value) {
  if (check.numbers.has_over_range && value === Infinity) return check.results.length - 1;
  const place = check.numbers.edges.findIndex((edge) => edge > value);
  return place < 0 ? check.numbers.edges.length : place;
}

/** Whether a number of the gate's check opens it: `benchlore.model.gate_open`. */
export function gateOpen(model, gate, value) {
  const check = model.checks[gate.check];
  if (gate.state === null) return gate.results.includes(resultOf(check, value));
  const logs = check.shows.map((_, s) => numberLog(check, s, value));
  const high = maxOf(logs);
  if (high === -Infinity) return false;
  const likelihood = logs.map((log) => Math.exp(log - high));
  const best = maxOf(likelihood);
  if (gate.negated) return best > 0 && likelihood[gate.state] <= RULED_OUT * best;
  const says = likelihood.length === 1 || Math.min(...likelihood) < best - TIE;
  return best > 0 && says && likelihood[gate.state] >= best - TIE;
}
