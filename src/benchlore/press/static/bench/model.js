/**
 * The page's data laid out for the engine: names, probabilities and prices, as docs/page-bench.md describes.
 *
 * Faults are numbered `f`, conditions `g`, states `s`, checks `c`, results `r`, fixes with one soak each `a`
 * (variants of one fix lie together). Actions are numbered checks first, then `a`. Costs are in the shop's
 * currency. Sets of setups are bit masks. Every name and number is what the Python of the same name has.
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

/** Lay out the data; nothing in the result is ever changed. */
export function laidOut(data) {
  const rows = data.rows.map((row) => Float64Array.from(row));
  const model = {
    data,
    faults: data.faults.map((fault) => fault.name),
    prior: Float64Array.from(data.faults, (fault) => fault.prior),
    detects: Float64Array.from(data.faults, (fault) => fault.detects),
    every: Float64Array.from(data.faults, (fault) => fault.every),
    conditions: data.conditions.map((each) => ({ ...each, table: each.rows.map((row) => rows[row]) })),
    setups: data.setups.map((each) => ({ ...each, cost: costOf(each.cost) })),
    checks: data.checks.map((each) => ({
      ...each,
      shows: each.rows.map((row) => rows[row]),
      cost: costOf(each.cost),
    })),
    fixes: data.fixes.map((each) => ({ ...each, cures: rows[each.cures] })),
  };
  model.plan = planIn(model);
  model.setupCost = model.setups.map((setup) => totalOf(setup.cost));
  model.options = [...model.checks, ...variantsIn(model, rows)];
  model.actions = model.options.map((option) => totalOf(option.cost));
  return model;
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
      cost: costOf({ ...fix.cost, retest: fix.retests[k] }),
    }));
  });
}

/** The procedure's steps by their names, `{kind, action, soak, setups, expected, branches: [{result, to}]}`. */
function planIn({ data, checks, fixes, setups }) {
  if (data.plan === null) return null;
  return data.plan.map(([action, soak, made, expected, to]) => {
    const isCheck = action >= 0 && action < checks.length;
    const kind = action < 0 ? "return" : isCheck ? "check" : "fix";
    const results = isCheck ? checks[action].results : ["still there"];
    return {
      kind,
      action: action < 0 ? "" : [...checks, ...fixes][action].name,
      soak,
      setups: setups.filter((_, k) => (made >> k) & 1).map((setup) => setup.name),
      expected,
      branches: to.map((place, r) => ({ result: results[r], to: place })),
    };
  });
}
