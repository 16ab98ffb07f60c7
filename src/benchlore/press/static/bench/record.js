/** A job's record as `benchlore intake` takes it in: a long table, RFC 4180, with its mapping. */

const FORMULA = /^\s*[=+\-@＝＋－＠]|^[\t\r\n]/;

/** A cell; what a spreadsheet would take for a formula gets an apostrophe, but numbers stay numbers. */
function cell(value) {
  const text = String(value ?? "");
  const isNumber = /^-?[0-9.,]+( ?[A-Za-zµΩ°%]+)?$/.test(text.trim());
  const safe = FORMULA.test(text) && !isNumber ? `'${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** The rows of a job that is closed: `about` are its own facts, `entries` what was done. */
export function recordText({ columns, board, complaint, unclear }, about, entries) {
  const steps = stepsOf(entries, unclear);
  const told = entries.filter((each) => each.kind === "note").map((each) => each.text);
  const vague = entries.filter((each) => each.kind === "reading" && isUnclear(each, unclear)).map((each) => each.check);
  if (vague.length > 0) told.push(`Unclear: ${vague.join(", ")}.`);
  const job = {
    job: about.job,
    opened: about.opened,
    technician: about.technician,
    board,
    complaint,
    outcome: about.outcome,
    fault: about.fault,
    "minutes at work": about.work,
    "minutes waiting": about.waiting,
    notes: [about.notes, ...told].filter(Boolean).join("; "),
  };
  const identity = { job: about.job, board, complaint };
  const rows = steps.map((step, k) => ({ ...(k === 0 ? job : identity), step: k + 1, ...step }));
  const lines = [columns, ...(rows.length > 0 ? rows : [job]).map((row) => columns.map((column) => row[column]))];
  return lines.map((line) => `${line.map(cell).join(",")}\r\n`).join("");
}

const isUnclear = (entry, unclear) => entry.text.trim().toLowerCase() === unclear;

const SOAKED = "minutes soaked";
const ENDS_SOAK = ["soak", "retest", "fix"];

/** Readings and fixes in order; each fix with what its retest showed and how long the board soaked. */
function stepsOf(entries, unclear) {
  const steps = [];
  let fix = null;
  let soak = null;
  for (const entry of entries) {
    if (soak !== null && ENDS_SOAK.includes(entry.kind)) {
      const ran = Math.min(soak.minutes, Math.max(0, Date.parse(entry.at) - Date.parse(soak.at)) / 60_000);
      fix[SOAKED] = Number(((fix[SOAKED] ?? 0) + ran).toFixed(2));
      soak = null;
    }
    if (entry.kind === "soak" && fix !== null) soak = entry;
    if (entry.kind === "reading" && !isUnclear(entry, unclear)) steps.push({ check: entry.check, reading: entry.text });
    if (entry.kind === "fix") steps.push((fix = { fix: entry.fix, retest: "unknown" }));
    if (entry.kind === "retest" && fix !== null) fix.retest = entry.result;
  }
  return steps;
}
