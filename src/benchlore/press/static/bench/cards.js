/** The card of the step to do now: a check, a fix, the return, a retest that is due, or a complaint that is gone. */

import { button, cautionsOf, drawn, each, h } from "./elements.js";
import { GONE, STILL_THERE, UNKNOWN, proves, understood, unjudgedIn } from "./journal.js";
import { quantityText } from "./units.js";
import { share } from "./words.js";

const LEAST_CHANCE = 0.005;

/** The card of a job as it stands; `bench` has the model, the words and what enters something. */
export function cardOf(bench, standing, advice, chosen) {
  if (chosen !== null) return chosenCard(bench, standing, advice, chosen);
  if (standing.due !== null) return retestCard(bench, standing);
  if (standing.isGone) return goneCard(bench, standing);
  const [best] = advice.options;
  return best.kind === "return" ? returnCard(bench, advice) : stepCard(bench, advice, best, { kind: best.kind, name: best.action, isBest: true });
}

const headed = (hint, title, ...children) =>
  h(
    "section",
    { class: "card", "aria-labelledby": "bench-step" },
    hint ? h("p", { class: "soft" }, hint) : null,
    h("h3", { id: "bench-step", tabindex: "-1" }, title),
    children,
  );

function chosenCard(bench, standing, advice, { kind, name }) {
  const option = advice?.options.find((each) => each.kind === kind && each.action === name) ?? null;
  const isBest = option !== null && option === advice.options[0];
  return stepCard(bench, advice, option, { kind, name, isBest });
}

/** A check or a fix; `option` is null where it was not weighed. */
function stepCard(bench, advice, option, { kind, name, isBest }) {
  const { words, texts } = bench;
  const isFix = kind === "fix";
  const setups = option?.setups ?? [];
  const held = advice?.heldBack.find(([action]) => action === name);
  const text = (isFix ? texts.fixes : texts.checks)[name];
  const missing = new Set(setups);
  const { setups: stands = [], cautions = [], parts = [] } = text;
  const standing = stands.map((place) => bench.model.setups[place]).filter(({ name: setup }) => !missing.has(setup));
  const back = h("p", { class: "soft" }, "Another step than the best. ", button("Back to the best", () => bench.choose(null)));
  const soak = option?.soak ?? texts.retest.waits;
  return headed(
    isBest ? "The best next step" : null,
    `${isFix ? "Fix: " : ""}${words.titles.get(name)}`,
    isBest ? null : back,
    held ? h("p", { class: "caution" }, h("strong", {}, "Not now: "), `${held[1]}.`) : null,
    setups.map((setup) => h("p", { class: "setup" }, texts.setups[setup])),
    standing.length > 0
      ? h("p", { class: "setup" }, words.say("standing", { names: standing.map((each) => each.title).join(", ") }))
      : null,
    text.how ? h("p", { class: "how" }, text.how) : null,
    h("p", { class: "soft" }, `Takes ${text.time}.`),
    placeOf(texts, texts.places[text.place]),
    text.wire ? h("p", {}, text.wire) : null,
    parts.length > 0 ? h("p", {}, `Parts: ${parts.join(", ")}.`) : null,
    isFix ? h("p", {}, texts.retest.after[String(soak)] ?? texts.retest.how) : null,
    cautionsOf(cautions.map((place) => texts.cautions[place])),
    isFix ? fixButtons(bench, name, soak) : readingPart(bench, name),
    advice ? whyPart(bench, advice, option, isBest) : null,
  );
}

/** Where to probe: a window of the book's picture around the place, and the whole of it. */
function placeOf({ pictures }, place) {
  if (!place) return null;
  const [picture, cx, cy, window] = place;
  const [href, width, height] = pictures[picture];
  const image = () => drawn("image", { href, width, height });
  const ring = (share) => {
    if (!window) return [];
    const at = { cx, cy, r: (width * share).toFixed(1) };
    return [drawn("circle", { class: "probe under", ...at }), drawn("circle", { class: "probe", ...at })];
  };
  const whole = { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": "The whole board, the place marked" };
  const near = { viewBox: window, role: "img", "aria-label": "Where to probe, close up" };
  return h(
    "div",
    { class: "place" },
    window ? drawn("svg", near, image(), ring(0.02)) : null,
    h("details", {}, h("summary", {}, "The whole picture"), drawn("svg", whole, image(), ring(0.03))),
  );
}

const small = (...children) => h("div", { class: "choices small" }, children);

const cannot = (bench, name) => button("Cannot be done", () => bench.enter({ kind: "skip", name }));

function fixButtons(bench, fix, soak) {
  const done = button("The fix is done", () => bench.enter({ kind: "fix", fix, soak }), { main: true });
  return [h("div", { class: "choices" }, done), small(cannot(bench, fix))];
}

function readingPart(bench, check) {
  const { results, numbers } = bench.model.checks.find((each) => each.name === check);
  const { unclear } = bench.texts.words;
  const enter = (text) => bench.enter({ kind: "reading", check, text });
  const part =
    numbers === null
      ? h("div", { class: "choices results" }, results.map((result) => button(result, () => enter(result))))
      : numberPart(bench, check, enter);
  return [part, small(button("Unclear", () => enter(unclear)), cannot(bench, check))];
}

/** The number line and the field of a reading, which lands on the line while it is typed. */
function numberPart(bench, check, enter) {
  const { numbers } = bench.model.checks.find((each) => each.name === check);
  const spelt = bench.texts.units[numbers.measure];
  const line = document.getElementById(`bench-scale-${check}`).content.cloneNode(true);
  const told = h("p", { id: "bench-lands", class: "hint", "aria-live": "polite" });
  const input = h("input", {
    id: "bench-reading",
    required: true,
    autocomplete: "off",
    autocapitalize: "off",
    spellcheck: "false",
    maxlength: "80",
    "aria-describedby": "bench-lands",
  });
  const svg = line.querySelector("svg");
  const read = () => {
    try {
      const { value } = understood(bench.model, bench.texts, check, input.value);
      land(svg, bench.texts.checks[check].scale, numbers, value);
      return [value === null ? "" : quantityText(value, numbers.measure, spelt), true];
    } catch (error) {
      land(svg, null, numbers, null);
      return [error.message, false];
    }
  };
  input.addEventListener("input", () => {
    const [text, isGood] = read();
    told.textContent = isGood && input.value ? `Read as ${text}.` : "";
    input.removeAttribute("aria-invalid");
  });
  const onsubmit = (event) => {
    event.preventDefault();
    const [text, isGood] = read();
    if (isGood) enter(input.value.trim());
    else {
      told.textContent = text;
      input.setAttribute("aria-invalid", "true");
      input.focus();
    }
  };
  const label = h("label", { for: "bench-reading" }, "Reading ", h("span", { class: "hint" }, `as the meter shows it: ${spelt.example}, OL for over range`));
  return [
    h("div", { class: "scale picture" }, line),
    h("form", { class: "reading", onsubmit, novalidate: true }, h("p", {}, label, input), told, h("button", { class: "main" }, "Enter")),
  ];
}

/** Move the mark of the number line to a reading, to the nearer end if it lies beyond. */
function land(svg, scale, numbers, value) {
  const mark = svg.querySelector(".lands");
  const isOn = scale && value !== null && Number.isFinite(value);
  mark.toggleAttribute("hidden", !isOn);
  if (!isOn) return;
  const y = numbers.log_normal ? Math.log(Math.max(value, Number.MIN_VALUE)) : value;
  const at = Math.min(1, Math.max(0, (y - scale[0]) / (scale[1] - scale[0])));
  const { side, inner } = svg.dataset;
  mark.setAttribute("transform", `translate(${(Number(side) + Number(inner) * at).toFixed(1)} 0)`);
}

function whyPart(bench, advice, option, isBest) {
  const said = isBest ? bench.words.why(advice) : bench.words.whyNot(advice, option);
  return h("details", {}, h("summary", {}, "Why"), h("ul", {}, each("li", said)), option ? outlooksPart(bench, advice, option) : null);
}

/** What each result would do: its chance, and the first suspect before and after. */
function outlooksPart(bench, advice, option) {
  const rows = option.outlooks.filter((row) => row.chance >= LEAST_CHANCE);
  if (rows.length === 0) return null;
  const leader = ({ suspects: [first] }) => {
    if (!first) return "";
    return `${bench.words.fault(first.fault)} ${share(advice.belief[first.fault])} → ${share(first.probability)}`;
  };
  const head = h("tr", {}, h("th", { scope: "col" }, "Result"), h("th", { scope: "col", class: "number" }, "Chance"), h("th", { scope: "col" }, "First suspect, before and after"));
  const body = rows.map((row) => h("tr", {}, h("th", { scope: "row" }, row.result), h("td", { class: "number" }, share(row.chance)), h("td", {}, leader(row))));
  const table = h("table", {}, h("caption", {}, "What each result would do"), h("thead", {}, head), h("tbody", {}, body));
  return h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "What each result would do" }, table);
}

function returnCard(bench, advice) {
  const { words } = bench;
  const title = words.texts.said.return;
  const ways = words.goOn(advice);
  const go = ways.length > 0 ? [h("h4", {}, "What would have to be true to go on"), h("ul", {}, each("li", ways))] : [];
  return headed(
    "The best next step",
    title[0].toUpperCase() + title.slice(1),
    h("ul", {}, each("li", words.stop(advice))),
    go,
    h("div", { class: "choices" }, button("Close: return it", () => bench.close("returned"), { main: true })),
  );
}

function retestCard(bench, standing) {
  const { model, texts, words } = bench;
  const { planned, fix } = standing.due;
  const fixes = unjudgedIn(model, standing);
  const { evidence } = standing.situation;
  const minutes = Math.max(planned, standing.soaked);
  const { cured, overlooked } = proves(model, evidence, fixes, minutes);
  const retest = (label, result, main) => button(label, () => bench.enter({ kind: "retest", result }), { main });
  const over = standing.soak === null ? null : Date.parse(standing.soak.at) + 60_000 * standing.soak.minutes;
  const isSoaking = over !== null && over > Date.now();
  const needsSoak = planned > 0 && standing.soak === null;
  const start = () => bench.enter({ kind: "soak", minutes: planned });
  const facts = [
    ["Cured, before any retest", proves(model, evidence, fixes, null).cured],
    [`Cured, if nothing shows${minutes > 0 ? ` in ${Number(minutes.toFixed(1))} min` : ""}`, cured],
    ["A board that is not cured shows nothing then", overlooked],
  ];
  return headed(
    null,
    `Try the complaint again: ${words.titles.get(fix)}`,
    h("p", { class: "how" }, texts.retest.after[String(planned)] ?? texts.retest.how),
    cautionsOf(texts.retest.cautions.map((place) => texts.cautions[place])),
    over === null ? null : h("p", { class: "soak", role: "timer", "data-over": over }, isSoaking ? "" : "The soak is over."),
    h("dl", { class: "facts" }, facts.map(([name, value]) => [h("dt", {}, name), h("dd", {}, share(value))])),
    h(
      "div",
      { class: "choices" },
      needsSoak ? button("Start the soak", start, { main: true }) : null,
      retest("Still there", STILL_THERE, false),
      retest("Gone", GONE, !needsSoak && !isSoaking),
      retest("Nobody knows", UNKNOWN, false),
    ),
  );
}

function goneCard(bench, standing) {
  const fixes = unjudgedIn(bench.model, standing);
  const { cured, overlooked } = proves(bench.model, standing.situation.evidence, fixes, standing.soaked);
  const soaked = standing.soaked > 0 ? ` after ${Number(standing.soaked.toFixed(1))} min of soak` : "";
  return headed(
    null,
    "The complaint is gone",
    h("p", {}, `The board is cured with a chance of ${share(cured)}${soaked}; one that is not cured would have shown nothing with a chance of ${share(overlooked)}.`),
    h("div", { class: "choices" }, button("Close the job", () => bench.close("repaired"), { main: true })),
  );
}
