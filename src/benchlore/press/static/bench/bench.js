/** The bench in a complaint's page: what was done, the step to do now, the suspects, the record. */

import { advise } from "./advice.js";
import { cardOf } from "./cards.js";
import { button, chooser, download, field, h } from "./elements.js";
import { standingOf } from "./journal.js";
import { laidOut } from "./model.js";
import { prepare } from "./position.js";
import { recordText } from "./record.js";
import { Shelf } from "./shelf.js";
import { Words, beyond, share } from "./words.js";

const MOST_SUSPECTS = 6;
const MOST_OTHERS = 4;

class Bench {
  constructor(root, { engine, texts }) {
    this.root = root;
    this.texts = texts;
    this.model = laidOut(engine);
    this.prepared = prepare(this.model);
    this.words = new Words(this.model, texts);
    this.shelf = new Shelf(`${engine.board}/${engine.complaint}`, () => window.localStorage);
    this.chosen = null;
    this.open = new Set();
    root.hidden = false;
    this.render();
    setInterval(() => this.tick(), 1000);
  }

  enter(entry) {
    this.shelf.enter(entry);
    this.choose(null);
  }

  /** Show another card than the best step's: `{kind, name}`, or null for the best. */
  choose(chosen) {
    this.chosen = chosen;
    this.render();
    const step = document.getElementById("bench-step");
    step.focus({ preventScroll: true });
    step.closest(".card").scrollIntoView({ block: "nearest" });
  }

  close(outcome) {
    this.shelf.tell("outcome", outcome);
    this.open.add("record");
    this.render();
    document.getElementById("bench-about-job").focus();
  }

  render() {
    const { entries } = this.shelf.job;
    let standing;
    try {
      standing = standingOf(this.model, this.texts, entries);
    } catch {
      this.shelf.begin(); // the book has changed since: what was entered means nothing to it any more
      standing = standingOf(this.model, this.texts, []);
    }
    const waits = standing.due !== null || standing.isGone;
    const advice = advise(this.prepared, standing.situation, this.model.plan);
    const card = cardOf(this, standing, waits ? null : advice, this.chosen);
    const right = h("div", { class: "right" }, this.suspects(advice), this.notices(waits ? null : advice));
    const left = h("div", { class: "left" }, card, this.others(standing, waits ? null : advice));
    const done = h("div", { class: "done" }, this.done(entries), this.record(), this.jobs());
    this.root.querySelector(".at-bench").replaceChildren(h("div", { class: "columns" }, left, right, done));
    this.tick();
  }

  /** Details that stay as they are when the page is drawn anew. */
  fold(name, title, ...children) {
    const ontoggle = (event) => (event.target.open ? this.open.add(name) : this.open.delete(name));
    return h("details", { open: this.open.has(name), ontoggle }, h("summary", {}, title), children);
  }

  suspects({ suspects }) {
    const shown = suspects.slice(0, MOST_SUSPECTS);
    const rest = suspects.slice(MOST_SUSPECTS).reduce((sum, { probability }) => sum + probability, 0);
    const row = (title, part) => {
      const bar = h("span", { class: "share", "aria-hidden": "true" }, h("span", { class: "part" }));
      bar.firstChild.style.width = `${(100 * part).toFixed(1)}%`;
      return h("li", {}, h("span", { class: "what" }, title), h("span", { class: "number" }, share(part)), bar);
    };
    return h(
      "section",
      { "aria-labelledby": "bench-suspects" },
      h("h3", { id: "bench-suspects" }, "Suspects"),
      h("ol", { class: "plain shares" }, shown.map(({ fault, probability }) => row(this.words.fault(fault), probability)), rest > 1e-9 ? row("all others", rest) : null),
    );
  }

  notices(advice) {
    const said = advice === null ? [] : this.words.notices(advice);
    return said.map((text) => h("p", { class: "soft" }, text));
  }

  /** Something else than the best step. */
  others(standing, advice) {
    const { model, texts } = this;
    const { situation, setups, without } = standing;
    const { readings, values, failed } = situation.evidence;
    const read = new Set(advice === null ? [] : [...readings, ...values].map(([check]) => check));
    const named = (list) => list.map((each) => [each.name, each.title]);
    const checks = named(model.checks.filter((_, c) => !read.has(c)));
    const fixes = named(model.fixes.filter((_, a) => !failed.includes(a)));
    const stand = named(model.setups.filter((setup) => !setups.includes(setup.name)));
    const tools = model.data.equipment.filter((name) => !without.includes(name)).map((name) => [name, name]);
    return this.fold(
      "else",
      "Something else",
      advice === null ? null : this.alternatives(advice),
      chooser("bench-check", "Another check that was or will be made", checks, "Show it", (name) => this.choose({ kind: "check", name })),
      chooser("bench-fix", "Another fix", fixes, "Show it", (name) => this.choose({ kind: "fix", name })),
      chooser("bench-setup", "Something stands already", stand, "It stands", (name) => this.enter({ kind: "setup", name })),
      chooser("bench-tool", "An instrument or skill is missing today", tools, "It is missing", (equipment) => this.enter({ kind: "without", equipment })),
      this.asked("budget", `May still be spent, in ${this.words.currency}`, { inputmode: "decimal" }, "Keep to it", (text) => {
        const amount = Number(text.replace(",", "."));
        return amount >= 0 ? { kind: "budget", amount } : null;
      }),
      this.asked("note", "A remark", { maxlength: "2000" }, "Keep it", (text) => ({ kind: "note", text })),
    );
  }

  alternatives(advice) {
    const line = (option) => {
      const more = beyond(advice, option);
      const text = `${this.words.name(option)}: ${more < 0 ? "−" : "+"}${this.words.money(Math.abs(more))}`;
      const show = option.kind === "return" ? () => this.close("returned") : () => this.choose({ kind: option.kind, name: option.action });
      return h("li", {}, button(text, show, { class: "line" }));
    };
    const others = advice.options.slice(1, 1 + MOST_OTHERS);
    if (others.length === 0) return null;
    const found = [h("h4", {}, "Instead, and what it would cost more"), h("ul", { class: "plain" }, others.map(line))];
    if (others.some((option) => beyond(advice, option) < 0)) found.push(h("p", { class: "soft" }, this.texts.said["looks cheaper"]));
    return found;
  }

  asked(name, label, attributes, verb, entryOf) {
    const input = h("input", { id: `bench-${name}`, required: true, autocomplete: "off", ...attributes });
    const onsubmit = (event) => {
      event.preventDefault();
      const entry = input.value.trim() === "" ? null : entryOf(input.value.trim());
      if (entry !== null) this.enter(entry);
      else input.setAttribute("aria-invalid", "true");
    };
    return h("form", { class: "pick", onsubmit, novalidate: true }, h("label", { for: `bench-${name}` }, label), input, h("button", {}, verb));
  }

  done(entries) {
    const { undone } = this.shelf.job;
    const back = (to) => () => {
      this.shelf.undo(to);
      this.choose(null);
    };
    const again = () => {
      this.shelf.redo();
      this.choose(null);
    };
    const line = (entry, k) => {
      const text = this.told(entry);
      const is = k === entries.length - 1;
      const at = new Date(entry.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
      return h("li", {}, h("span", { class: "soft" }, at), h("span", { class: "what" }, text), is ? null : button("Back to here", back(k + 1), { extra: `: ${text}` }));
    };
    const undo = entries.length > 0 ? button("Take back the last entry", back()) : null;
    const redo = undone.length > 0 ? button("Put it back", again) : null;
    return h(
      "section",
      { "aria-labelledby": "bench-done" },
      h("h3", { id: "bench-done" }, "What was done"),
      entries.length === 0 ? h("p", {}, "Nothing yet.") : h("ol", { class: "plain journal", reversed: true }, entries.map(line).reverse()),
      h("div", { class: "choices small" }, undo, redo),
    );
  }

  told(entry) {
    const title = (name) => this.words.titles.get(name) ?? name;
    const setup = (name) => this.model.setups.find((each) => each.name === name)?.title ?? name;
    switch (entry.kind) {
      case "reading":
        return `${title(entry.check).replace(/[?:]$/, "")}: ${entry.text}`;
      case "fix":
        return `Fix done: ${title(entry.fix)}`;
      case "retest":
        return `Retest: ${entry.result}`;
      case "soak":
        return `Soak of ${Number(entry.minutes.toFixed(1))} min started`;
      case "skip":
        return `Cannot be done: ${title(entry.name)}`;
      case "without":
        return `Missing: ${entry.equipment}`;
      case "setup":
        return `Stands: ${setup(entry.name)}`;
      case "budget":
        return `May still be spent: ${this.words.money(entry.amount)}`;
      default:
        return entry.text;
    }
  }

  /** The record: how the job ended, and the file that takes it to a library. */
  record() {
    const { outcomes, unlisted } = this.texts.words;
    const about = this.about();
    const faults = this.model.data.faults.filter((fault) => fault.name !== unlisted);
    const choices = [["", "not confirmed"], ...faults.map((fault) => [fault.name, fault.title]), [unlisted, "another one: see the remarks"]];
    const input = (name, attributes = {}) => h("input", { value: about[name], autocomplete: "off", oninput: (event) => this.shelf.tell(name, event.target.value), ...attributes });
    const select = (name, options) =>
      h("select", { onchange: (event) => this.shelf.tell(name, event.target.value) }, options.map(([value, text]) => h("option", { value, selected: value === about[name] }, text)));
    const told = h("p", { class: "hint", "aria-live": "polite" });
    return this.fold(
      "record",
      "The record of this job",
      h("p", {}, "It stays on this device until you save it as a file. A library takes the file in with “benchlore intake”, and its models learn from it."),
      h(
        "div",
        { class: "fields" },
        field("bench-about-job", "Job number", input("job", { maxlength: "80" })),
        field("bench-about-shop", "Shop", input("shop", { maxlength: "80" })),
        field("bench-about-technician", "Technician", input("technician", { maxlength: "80" })),
        field("bench-about-opened", "Day", input("opened", { type: "date" })),
        field("bench-about-outcome", "How it ended", select("outcome", outcomes.map((each) => [each, each]))),
        field("bench-about-fault", "Fault that was found", select("fault", choices)),
        field("bench-about-work", "Minutes at work", input("work", { inputmode: "decimal" })),
        field("bench-about-waiting", "Minutes waiting", input("waiting", { inputmode: "decimal" })),
        field("bench-about-notes", "Remarks", input("notes", { maxlength: "2000" })),
      ),
      h("div", { class: "choices" }, button("Save the record", () => this.save(told), { main: true }), button("Save its mapping file", () => this.saveMapping(told))),
      told,
    );
  }

  about() {
    const job = this.shelf.job;
    const soaked = job.entries.reduce((sum, entry) => sum + (entry.kind === "soak" ? entry.minutes : 0), 0);
    const day = new Date(job.opened);
    const opened = new Date(day - 60_000 * day.getTimezoneOffset()).toISOString().slice(0, 10);
    const number = `${opened.slice(2)}-${String(this.shelf.current + 1)}`;
    const waiting = soaked > 0 ? String(Number(soaked.toFixed(1))) : "";
    const before = this.shelf.jobs.at(-2)?.about ?? {};
    const { shop = "", technician = "" } = before;
    return { job: number, shop, technician, opened, outcome: "repaired", fault: "", work: "", waiting, notes: "", ...job.about };
  }

  save(told) {
    const about = this.about();
    if (!this.fits(about, told)) return;
    const { board, complaint } = this.model.data;
    const { unclear } = this.texts.words;
    const text = recordText({ columns: this.texts.record.columns, board, complaint, unclear }, about, this.shelf.job.entries);
    download(`${fileName(`${board} ${complaint} ${about.job}`)}.csv`, "text/csv", text);
    told.textContent = "Saved with your downloads.";
  }

  saveMapping(told) {
    const { shop } = this.about();
    if (!this.fits({ shop, job: "1" }, told)) return;
    const text = this.texts.record.mapping.replace("{shop}", () => JSON.stringify(shop));
    download(`${fileName(shop)}-page-records.mapping.yaml`, "text/yaml", text);
    told.textContent = "Saved with your downloads; one mapping serves all records of a shop.";
  }

  fits({ job, shop, work = "", waiting = "" }, told) {
    const isMinutes = (text) => text === "" || Number(text.replace(",", ".")) >= 0;
    const wrong = [
      [job.trim() === "", "bench-about-job", "Give the job a number."],
      [shop.trim() === "", "bench-about-shop", "Name the shop: a library tells jobs apart by shop and number."],
      [!isMinutes(work), "bench-about-work", "Write minutes as a number."],
      [!isMinutes(waiting), "bench-about-waiting", "Write minutes as a number."],
    ].find(([is]) => is);
    if (wrong === undefined) return true;
    told.textContent = wrong[2];
    document.getElementById(wrong[1]).focus();
    return false;
  }

  /** The jobs of this device. */
  jobs() {
    const { jobs, current, isKept } = this.shelf;
    const label = (job, k) => `${new Date(job.opened).toLocaleString([], { dateStyle: "short", timeStyle: "short" })}${job.about.job ? `, ${job.about.job}` : ""} (${job.entries.length})`;
    const others = jobs.map((job, k) => [String(k), label(job, k)]).filter(([k]) => Number(k) !== current);
    const show = (k) => {
      this.shelf.show(Number(k));
      this.choose(null);
    };
    const begin = () => {
      this.shelf.begin();
      this.choose(null);
    };
    const remove = () => {
      if (!window.confirm("Remove this job from the device? Its entries are lost.")) return;
      this.shelf.remove();
      this.choose(null);
    };
    return h(
      "section",
      { "aria-labelledby": "bench-jobs" },
      h("h3", { id: "bench-jobs" }, "Jobs on this device"),
      isKept ? null : h("p", { class: "caution", role: "status" }, "This browser keeps nothing for this page: the job is lost when the page is closed. Save its record first."),
      chooser("bench-job", "An earlier job, by its start and entries", others, "Show it", show),
      h("div", { class: "choices small" }, button("Start again with another device", begin), jobs.length > 1 || jobs[0].entries.length > 0 ? button("Remove this job", remove) : null),
    );
  }

  /** Show how long a soak still runs. */
  tick() {
    for (const timer of this.root.querySelectorAll(".soak")) {
      const left = Math.ceil((Number(timer.dataset.over) - Date.now()) / 1000);
      const until = new Date(Number(timer.dataset.over)).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
      const text = left > 0 ? `Soaking until ${until}: ${Math.floor(left / 60)} min ${String(left % 60).padStart(2, "0")} s left.` : "The soak is over.";
      if (timer.textContent !== text) timer.textContent = text;
    }
  }
}

const fileName = (text) => text.trim().toLowerCase().replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "") || "record";

/** Begin, where the page has a bench. */
export function begin(common) {
  const root = document.getElementById("bench");
  const data = document.getElementById("bench-data");
  if (root === null || data === null) return;
  const { engine, texts } = JSON.parse(data.textContent);
  new Bench(root, { engine, texts: { ...common, ...texts } });
  document.querySelector("nav.contents ul")?.prepend(h("li", {}, h("a", { href: "#bench" }, "At the bench")));
}
