/**
 * A job's entries, and where it stands after them: `benchlore.library.desk_standing` and `.desk_belief`.
 *
 * An entry is `{kind, at, …}`: `reading` (`check`, `text`), `skip` (`name`), `without` (`equipment`), `setup`
 * (`name`), `budget` (`amount`), `fix` (`fix`, `soak`), `soak` (`minutes`), `retest` (`result`), `note` (`text`).
 */

import { sumOf } from "./model.js";
import { posterior, setAside, without } from "./posterior.js";
import { readingOf } from "./units.js";

export const STILL_THERE = "still there";
export const GONE = "gone";
export const UNKNOWN = "unknown";

/** One reading as evidence, `{check, result, value}`: one of the two, or neither where it told nothing. */
export function understood(model, texts, name, text) {
  const check = model.checks.findIndex((each) => each.name === name);
  const { results, numbers } = model.checks[check];
  const plain = text.trim().toLowerCase();
  const result = results.findIndex((each) => each.toLowerCase() === plain);
  if (plain === texts.words.unclear && result < 0) return { check, result: null, value: null };
  if (numbers !== null && (result < 0 || plain === "ol")) {
    return { check, result: null, value: readingOf(text, numbers.measure, texts.units[numbers.measure]) };
  }
  if (result < 0) throw new Error(`'${name}' shows ${results.join(" or ")}`);
  return { check, result, value: null };
}

/**
 * Where a job stands: `{situation, readings, tried, due, isGone, soaked, soak}`.
 *
 * A complaint that is still there says that no fix so far has cured. What was read after a fix counts once the
 * complaint is known to be there.
 */
export function standingOf(model, texts, entries) {
  const at = { evidence: new Map(), held: [], isHeld: false, tried: [], setups: [], skipped: [], without: [] };
  Object.assign(at, { budget: null, soaked: 0, soak: null });
  for (const entry of entries) follow(model, texts, at, entry);
  const last = at.tried.at(-1);
  const isDue = last !== undefined && last.retest === null;
  return { ...at, situation: situationOf(model, at), due: isDue ? last : null, isGone: last?.retest === GONE };
}

function follow(model, texts, at, entry) {
  if (entry.kind === "reading") {
    const read = understood(model, texts, entry.check, entry.text);
    if (at.isHeld) at.held.push(read);
    else at.evidence.set(read.check, read);
  } else if (entry.kind === "fix") {
    at.tried.push({ fix: entry.fix, retest: null, planned: entry.soak });
    Object.assign(at, { isHeld: true, soaked: 0, soak: null });
  } else if (entry.kind === "soak") {
    at.soak = entry;
    at.soaked += entry.minutes;
  } else if (entry.kind === "retest") retest(at, entry.result);
  else if (entry.kind === "skip") at.skipped.push(entry.name);
  else if (entry.kind === "without") at.without.push(entry.equipment);
  else if (entry.kind === "setup") at.setups.push(entry.name);
  else if (entry.kind === "budget") at.budget = entry.amount;
}

function retest(at, result) {
  const last = at.tried.at(-1);
  if (last !== undefined) last.retest = result;
  at.isHeld = result === GONE;
  if (result === STILL_THERE) for (const each of at.tried) each.retest = STILL_THERE;
  if (!at.isHeld) {
    for (const read of at.held) at.evidence.set(read.check, read);
    at.held = [];
  }
}

/** What the engine is asked; a fix whose retest told nothing is not proposed again. */
function situationOf(model, at) {
  const read = [...at.evidence.values()];
  const place = (list, name) => list.findIndex((each) => each.name === name);
  const failed = at.tried.filter((each) => each.retest === STILL_THERE).map((each) => each.fix);
  const unsure = at.tried.filter((each) => each.retest !== STILL_THERE).map((each) => each.fix);
  const setups = new Set(at.setups.map((name) => place(model.setups, name)));
  for (const name of unsure) {
    const mask = model.fixes[place(model.fixes, name)].setups;
    for (const k of model.setups.keys()) if (mask & model.bits[k]) setups.add(k);
  }
  return {
    evidence: {
      readings: read.filter((each) => each.result !== null).map((each) => [each.check, each.result]),
      values: read.filter((each) => each.value !== null).map((each) => [each.check, each.value]),
      failed: [...new Set(failed)].map((name) => place(model.fixes, name)),
      passed: [],
    },
    setups: [...setups],
    unclear: read.filter((each) => each.result === null && each.value === null).map((each) => each.check),
    skipped: [...new Set([...at.skipped, ...unsure])],
    without: [...new Set(at.without)],
    budget: at.budget,
  };
}

/** The fixes that may have cured the board, as places in the model. */
export const unjudgedIn = (model, standing) =>
  standing.tried
    .filter((each) => each.retest !== STILL_THERE)
    .map((each) => model.fixes.findIndex((fix) => fix.name === each.fix));

/**
 * What a retest that shows nothing proves after so many minutes of soak: `cured`, the chance that the board is;
 * `overlooked`, that one which is not shows nothing. Before any retest `minutes` is null.
 */
export function proves(model, evidence, fixes, minutes) {
  let belief = posterior(model, evidence);
  if (belief.logEvidence === -Infinity) belief = posterior(model, without(evidence, setAside(model, evidence)));
  let uncured = belief.faults;
  for (const fix of fixes) uncured = uncured.map((each, f) => each * (1 - model.fixes[fix].cures[f]));
  const left = sumOf(uncured);
  if (minutes === null) return { cured: 1 - left, overlooked: 1 };
  const detects = detection(model, minutes);
  const overlooked = sumOf(uncured.map((each, f) => each * (1 - detects[f])));
  const clean = 1 - left + overlooked;
  return { cured: clean > 0 ? (1 - left) / clean : 0, overlooked: left > 0 ? overlooked / left : 0 };
}

/** Probability that a retest with so many minutes of soak shows the complaint if not cured, by fault. */
function detection(model, soak) {
  const { takes, waits } = model.data.retest;
  if (soak === waits) return model.detects;
  return model.every.map((every, f) => (every > 0 ? -Math.expm1(-(takes + soak) / every) : model.detects[f]));
}


