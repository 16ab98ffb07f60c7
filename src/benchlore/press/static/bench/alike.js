/** Suspects that need not or cannot be told apart: `benchlore.procedure.alike`. */

import { sumOf } from "./model.js";
import { knownFaults } from "./state.js";

const NOTICEABLE = 0.02;
const MOST_COMPARED = 12;
const SAME = 0.01;
const SEPARATES = 0.2;
const MOST_COMBINED = 4096;
const MOST_NAMED = 3;

/** Groups of the noticeable suspects, `{faults, reason, fix, checks: [[name, why]]}`. */
export function alikeOf(position) {
  const { b } = position.state;
  const order = [...b.keys()].sort((one, other) => b[other] - b[one] || one - other);
  const suspects = order.slice(0, MOST_COMPARED).filter((f) => b[f] >= NOTICEABLE);
  if (suspects.length < 2) return [];
  const treated = sameFixes(position, suspects);
  const unseen = unseparated(position, suspects).filter(
    (group) => !treated.some((other) => group.faults.every((fault) => other.faults.includes(fault))),
  );
  return [...treated, ...unseen];
}

/** Group suspects whose best fixes, each being known, come in the same order and cost no more for all. */
function sameFixes({ prepared, problem, state }, suspects) {
  const groups = new Map();
  const found = suspects.map((f) => knownFaults(problem, state, [f]));
  for (const [k, { order }] of found.entries()) {
    groups.set(order.join(), [...(groups.get(order.join()) ?? []), k]);
  }
  return [...groups.values()].flatMap((members) => {
    const faults = members.map((k) => suspects[k]);
    if (members.length < 2) return [];
    const apart = sumOf(members.map((k) => found[k].cost));
    if (knownFaults(problem, state, faults).cost > apart * (1 + 1e-9)) return [];
    const [first] = found[members[0]].order;
    const fix = first === undefined ? "" : prepared.model.options[problem.C + first].name;
    return [{ faults, reason: fix ? "same fix" : "no fix", fix, checks: [] }];
  });
}

/** Group suspects for whom all that can still be read looks the same. */
function unseparated(position, suspects) {
  const { prepared, problem, why, situation } = position;
  const open = [...Array(problem.C).keys()].filter((c) => why[c] === "");
  const isNear = (one, other) => open.every((c) => apartBy(position, c, one, other) <= SAME);
  const groups = [];
  for (const f of suspects) {
    const home = groups.find((group) => group.every((other) => isNear(f, other)));
    if (home?.every((other) => isSame(position, open, f, other))) home.push(f);
    else groups.push([f]);
  }
  const { evidence } = situation;
  const read = new Set([...evidence.readings, ...evidence.values].map(([check]) => check));
  return groups.filter((group) => group.length > 1).map((group) => {
    const gap = [...Array(problem.C).keys()].map((c) =>
      Math.min(...group.slice(1).map((f, k) => apartBy(position, c, group[k], f))),
    );
    const telling = [...gap.keys()].sort((one, other) => gap[other] - gap[one] || one - other);
    const checks = telling.filter((c) => gap[c] >= SEPARATES && !read.has(c)).slice(0, MOST_NAMED);
    const named = checks.map((c) => [prepared.model.checks[c].name, why[c]]);
    return { faults: group, reason: "no check", fix: "", checks: named };
  });
}

/** Total variation between the results of a check for two suspects. */
function apartBy({ problem: p, states }, c, one, other) {
  const rows = states[p.condition[c]];
  let apart = 0;
  for (let r = 0; r < p.results[c]; r++) {
    let gap = 0;
    for (let s = 0; s < rows[one].length; s++) gap += (rows[one][s] - rows[other][s]) * p.shows[c][s][r];
    apart += Math.abs(gap);
  }
  return apart / 2;
}

/** Whether no combination of what can still be read tells two suspects apart. */
function isSame({ problem: p, states }, open, one, other) {
  return [...new Set(open.map((c) => p.condition[c]))].every((g) => {
    const gap = Array.from(states[g][one], (each, s) => each - states[g][other][s]);
    if (gap.every((each) => each === 0)) return true;
    return variation(p, open.filter((c) => p.condition[c] === g), gap) <= SAME;
  });
}

function variation(p, checks, gap) {
  if (checks.reduce((ways, c) => ways * p.results[c], 1) > MOST_COMBINED) {
    return sumOf(gap.map(Math.abs)) / 2;
  }
  let joint = [gap];
  for (const c of checks) {
    joint = joint.flatMap((row) =>
      Array.from({ length: p.results[c] }, (_, r) => row.map((each, s) => each * p.shows[c][s][r])),
    );
  }
  return sumOf(joint.map((row) => Math.abs(sumOf(row)))) / 2;
}
