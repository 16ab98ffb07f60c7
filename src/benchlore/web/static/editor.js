// The book's editor: review while typing, the cursor's place, a finding's line, Ctrl+S. All else is the form's.
const form = document.querySelector(".editor");
const text = form.querySelector("textarea");
const place = document.getElementById("place");
const list = document.getElementById("findings");
const sum = document.getElementById("sum");
const QUIET = 400; // milliseconds without a key before the text is reviewed

const opened = form.dataset.unsaved ? null : text.value;
let leaving = false, timer = 0, asking = null;

const element = (tag, className, content) => {
  const made = document.createElement(tag);
  made.className = className;
  made.textContent = content;
  return made;
};

const entry = ({ severity, rule, message, line, column }) => {
  const item = element("li", severity, "");
  const where = element(line === null ? "span" : "a", "where",
    line === null ? severity : `${severity}, line ${line}, column ${column}`);
  if (line !== null) Object.assign(where, { href: "#text" }), Object.assign(where.dataset, { line, column });
  const what = element("span", "what", `${message} `);
  what.append(element("span", "soft", `[${rule}]`));
  item.append(where, " ", what);
  return item;
};

const counted = (number, noun) => (number ? `${number} ${noun}${number === 1 ? "" : "s"}` : "");

const show = ({ findings, errors, warnings, notes }) => {
  const ol = element("ol", "findings", "");
  if (findings.length) ol.append(...findings.map(entry));
  else ol.append(element("li", "", "Nothing to remark."));
  list.replaceChildren(ol);
  const parts = [counted(errors, "error"), counted(warnings, "warning"), counted(notes, "note")];
  sum.textContent = `${parts.filter(Boolean).join(", ") || "Nothing to remark"}.`;
};

const review = async () => {
  asking?.abort();
  asking = new AbortController();
  try {
    const answer = await fetch(form.dataset.review, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ text: text.value }),
      signal: asking.signal,
    });
    const said = await answer.json();
    if (answer.ok) show(said);
    else sum.textContent = said.error.message;
  } catch (error) {
    if (error.name !== "AbortError") sum.textContent = "No answer from benchlore; your text stays here. Is it still running?";
  }
};

const tellPlace = () => {
  const before = text.value.slice(0, text.selectionStart).split("\n");
  place.textContent = `Line ${before.length}, column ${before.at(-1).length + 1}.`;
};

const goTo = (line, column) => {
  const lines = text.value.split("\n");
  const start = lines.slice(0, line - 1).reduce((sum, each) => sum + each.length + 1, 0);
  const at = Math.min(start + column - 1, start + (lines[line - 1]?.length ?? 0));
  text.focus({ preventScroll: true });
  text.setSelectionRange(at, at);
  const height = parseFloat(getComputedStyle(text).lineHeight);
  text.scrollTop = Math.max(0, (line - 6) * height);
  text.scrollLeft = 0;
  text.scrollIntoView({ block: "nearest" });
  tellPlace();
};

text.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(review, QUIET);
});
for (const kind of ["keyup", "click", "input", "focus"]) text.addEventListener(kind, tellPlace);
list.addEventListener("click", (event) => {
  const where = event.target.closest("a[data-line]");
  if (!where) return;
  event.preventDefault();
  goTo(Number(where.dataset.line), Number(where.dataset.column));
});
addEventListener("keydown", (event) => {
  if (event.key !== "s" || !(event.ctrlKey || event.metaKey) || event.altKey || event.shiftKey) return;
  event.preventDefault();
  form.requestSubmit(form.querySelector('[value="save"]'));
});
addEventListener("submit", () => { leaving = true; });
addEventListener("pageshow", () => { leaving = false; });
addEventListener("beforeunload", (event) => {
  if (!leaving && text.value !== opened) event.preventDefault();
});
