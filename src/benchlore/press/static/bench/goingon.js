/** What would have to be true for going on to pay, where the return is best: `benchlore.procedure.goingon`. */

import { equipped } from "./position.js";
import { sumOf } from "./model.js";
import { setupsCost } from "./state.js";

const MOST_SETS = 24;
const TIE = 1e-12;
const SAME = 1e-9;

/** `{surer, equipment}`; `costsOf(position)` ranks the actions at a position. */
export function goOn(position, costsOf) {
  return { surer: surerOf(position), equipment: equipmentOf(position, costsOf) };
}

/** The suspect whose chance would have to rise least for its fix to pay, with a return if it fails. */
function surerOf({ prepared, problem: p, state, waits }) {
  const reach = sumOf(state.b);
  const belief = state.b.map((each) => each / reach);
  let best = null;
  let least = Infinity;
  for (let a = 0; a < p.A; a++) {
    if (state.failed[a] || (waits.get(p.C + a) ?? []).length > 0) continue;
    const own = p.fixCost[a] + setupsCost(p, p.fixSetups[a] & ~state.standing);
    const after = Array.from(belief, (_, f) => {
      const caught = p.missed[a][f] * p.detects[a][f];
      return (p.missed[a][f] - caught) * p.comeback + caught * p.giveUp;
    });
    const mean = sumOf(after.map((cost, f) => cost * belief[f]));
    for (let f = 0; f < p.F; f++) {
      const others = (mean - belief[f] * after[f]) / (1 - belief[f]);
      const needed = (own + others - p.giveUp) / (others - after[f]);
      const may = p.missed[a][f] < 1 && belief[f] > 0 && belief[f] < 1 && own + after[f] < p.giveUp;
      if (may && others > after[f] && needed > belief[f] && needed - belief[f] < least) {
        least = needed - belief[f];
        best = { fault: f, fix: prepared.model.options[p.C + a].name, chance: belief[f], needed };
      }
    }
  }
  return best;
}

/** Missing equipment with which something pays, the best first: one piece, or the fewest that do. */
function equipmentOf(position, costsOf) {
  const { prepared, situation, problem } = position;
  const here = prepared.equipment.filter((name) => !situation.without.includes(name));
  const found = [];
  for (const names of lackingOf(prepared.model, here).slice(0, MOST_SETS)) {
    if (found.length > 0 && names.length > found[0].equipment.length) break;
    const costs = costsOf(equipped(position, [...here, ...names]));
    const lowest = costs.reduce((low, each) => Math.min(low, each), Infinity);
    if (lowest < problem.giveUp * (1 - TIE)) {
      const place = costs.findIndex((cost) => cost <= lowest * (1 + SAME));
      const kind = place < problem.C ? "check" : "fix";
      found.push({ equipment: names, kind, action: prepared.model.options[place].name, expected: lowest });
    }
  }
  return found.sort((one, other) => one.expected - other.expected || inOrder(one.equipment, other.equipment));
}

/** The sets of equipment that some action lacks beside what is there, the smallest first. */
function lackingOf(model, here) {
  const there = new Set(here);
  const missing = (needs) => needs.filter((name) => !there.has(name));
  const sets = new Map();
  const add = (names) => {
    const sorted = [...new Set(names)].sort();
    if (sorted.length > 0) sets.set(JSON.stringify(sorted), sorted);
  };
  for (const check of model.checks) add(missing(check.equipment));
  for (const fix of model.fixes) add(missing([...fix.equipment, ...model.data.retest.equipment]));
  return [...sets.values()].sort((one, other) => one.length - other.length || inOrder(one, other));
}

function inOrder(one, other) {
  const place = one.findIndex((name, k) => name !== other[k]);
  if (place < 0) return 0;
  return one[place] < other[place] ? -1 : 1;
}
