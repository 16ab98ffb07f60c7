/**
 * The page's data laid out for the engine: names, probabilities and prices, as docs/page-bench.md describes.
 *
 * Faults are numbered `f`, conditions `g`, states `s`, checks `c`, results `r`, fixes with one soak each `a`
 * (variants of one fix lie together). Actions are numbered checks first, then `a`. Costs are in the shop's
 * currency. Sets of setups are bit masks, of big integers where there are more setups than a number has bits.
 * Every name and number is what the Python of the same name has.
 */

const PARTS = ["hands_on", "waiting", "setups", "parts", "retest", "risk", "comeback", "lost_worth"];

/** A cost by cause, all zero but what is given. */
export const costOf = (given) => Object.fromEntries(PARTS.map((part) => [part, given[part] ?? 0]));

/** The sum of all parts of a cost, in their order. */
export const totalOf = (cost) => PARTS.reduce((sum, part) => sum + cost[part], 0);

/** What is spent for certain: no risk, comeback or lost worth. */
export const outlayOf = (cost) => cost.hands_on + cost.waiting + cost.setups + cost.parts + cost.retest;

/** Add up an array. */
export const sumOf = (array) => {
  let total = 0;
  for (const each of array) total += each;
  return total;
};

/** The largest of an array, `-Infinity` of none. */
export const maxOf = (array) => {
  let high = -Infinity;
  for (const each of array) if (each > high) high = each;
  return high;
};

/** A copy of a list with one place replaced. */
export const replaced = (list, place, value) => list.map((each, k) => (k === place ? value : each));

const BITS = 31;

/** A row of numbers; one that is what the others leave of one is written as 2. */
function rowOf(row) {
  const most = row.indexOf(2);
  return Float64Array.from(most < 0 ? row : replaced(row, most, row.reduce((rest, each, k) => (k === most ? rest : rest - each), 1)));
}

/** Sets of so many setups: none, each alone, and one that was written. */
function setsOf(count) {
  const isFew = count <= BITS;
  const bits = Array.from({ length: count }, (_, k) => (isFew ? 1 << k : 1n << BigInt(k)));
  return { nothing: isFew ? 0 : 0n, bits, setOf: isFew ? Number : BigInt };
}

/** Lay out the data; nothing in the result is ever changed. */
export function laidOut(data) {
  const { nothing, bits, setOf } = setsOf(data.setups.length);
  const rows = data.rows.map(rowOf);
  const entry = ({ cost = {}, setups = 0, equipment = [], gates = [], ...each }) => ({
    ...each,
    cost: costOf(cost),
    setups: setOf(setups),
    equipment,
    gates: gates.map((gate) => ({ state: null, negated: false, ...gate })),
  });
  const conditions = data.conditions.map((each) => ({ ...each, table: each.rows.map((row) => rows[row]) }));
  const faults = data.faults.map((fault) => ({ every: 0, ...fault }));
  const model = {
    data,
    nothing,
    bits,
    setOf,
    faults: faults.map((fault) => fault.name),
    prior: Float64Array.from(faults, (fault) => fault.prior),
    detects: Float64Array.from(faults, (fault) => fault.detects),
    every: Float64Array.from(faults, (fault) => fault.every),
    conditions,
    setups: data.setups.map(({ cost = {}, needs, ...each }) => ({ ...each, needs: setOf(needs), cost: costOf(cost) })),
    checks: data.checks.map(({ numbers = null, ...each }) => ({
      ...entry(each),
      numbers: numbers && { ...numbers, ...densitiesOf(numbers) },
      shows: each.rows.map((row) => rows[row]),
    })),
    fixes: data.fixes.map((each) => ({ ...entry(each), cures: rows[each.cures] })),
  };
  model.plan = planIn(model);
  model.setupCost = model.setups.map((setup) => totalOf(setup.cost));
  model.options = [...model.checks, ...variantsIn(model, rows)];
  model.actions = model.options.map((option) => totalOf(option.cost));
  return model;
}

/** The constants of the densities, by state, with what follows from the degrees of freedom. */
function densitiesOf({ densities, states }) {
  const [location, scale, freedom, body, over, number] = densities[0].map((_, k) => states.map((state) => densities[state][k]));
  return { student: [location, scale, freedom.map((each) => (each + 1) / 2), freedom, body, over], log_number: number };
}

/** Each fix with each soak, in the order of the fixes. */
function variantsIn(model, rows) {
  const { data } = model;
  return model.fixes.flatMap((fix, group) => {
    const missed = fix.cures.map((cure) => 1 - cure);
    return data.soaks.map((soak, k) => ({
      ...fix,
      group,
      missed,
      soak: soak.minutes,
      detects: rows[soak.detects],
      cost: { ...fix.cost, retest: fix.retests[k] },
    }));
  });
}

/** The place of a step so many further on; none further is the release, and one that is left out is null. */
function leadsTo(here, further) {
  if (further === 0) return -1;
  return further < 0 ? null : here + further;
}

/** The procedure's steps by their names, `{kind, action, soak, setups, expected, branches: [{result, to}]}`. */
function planIn({ data, checks, fixes, setups, bits, setOf }) {
  if (data.plan === null) return null;
  const [written, steps] = [data.plan, []];
  for (let at = 0; at < written.length; ) {
    const action = written[at++];
    if (action < 0) {
      steps.push({ kind: "return", action: "", soak: 0, setups: [], expected: data.give_up, branches: [] });
      continue;
    }
    const [here, isCheck] = [steps.length, action < checks.length];
    const made = setOf(written[at++]);
    const expected = written[at++];
    const results = isCheck ? checks[action].results : ["still there"];
    steps.push({
      kind: isCheck ? "check" : "fix",
      action: isCheck ? checks[action].name : fixes[action - checks.length].name,
      soak: isCheck ? 0 : written[at++],
      setups: setups.filter((_, k) => made & bits[k]).map((setup) => setup.name),
      expected,
      branches: results.map((result) => ({ result, to: leadsTo(here, written[at++]) })),
    });
  }
  return steps;
}
