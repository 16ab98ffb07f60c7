// The search over the whole library. What is found comes as a script of its own, asked for when the search is
// first used, so that the page opens at once; from a file on disk, browsers may fetch nothing else.
{
const MOST = 40;
const RANK = { board: 0, complaint: 1, fault: 2, part: 3, check: 4 };
const SAID = { board: "Board", complaint: "Complaint", fault: "Fault", part: "Part", check: "Check" };
const own = document.currentScript;
const form = document.getElementById("search");
const input = document.getElementById("wanted");
const told = form.querySelector(".told");
const list = form.querySelector(".found");
let rows = null, asked = false;

// Accents, case and signs do not count: "Prüfstift" is found by "prufstift".
const plain = (text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase().replace(/[^\p{L}\p{N}]+/gu, " ").trim();

const load = () => {
  if (asked) return;
  asked = true;
  const script = document.createElement("script");
  script.src = own.dataset.findable;
  script.onload = () => {
    rows = window.findables.map(([subject, title, inside, path, words]) => ({
      subject, title, inside, path, head: ` ${plain(title)}`, all: ` ${plain(`${title} ${inside} ${words}`)}`,
    }));
    show();
  };
  script.onerror = () => { told.textContent = "The list of what can be found is missing; see the boards below."; };
  document.head.append(script);
};

const score = (row, words) => {
  let sum = RANK[row.subject];
  for (const word of words) {
    if (!row.all.includes(` ${word}`)) return null;  // a word is found by how it begins
    sum += row.head.includes(` ${word}`) ? 0 : 10;
  }
  return sum;
};

const item = (row) => {
  const link = document.createElement("a");
  link.href = row.path.split("#").map((part) => part.split("/").map(encodeURIComponent).join("/")).join("#");
  const title = document.createElement("span");
  title.className = "title";
  title.textContent = row.title;
  const where = document.createElement("span");
  where.className = "soft";
  where.textContent = `${SAID[row.subject]} · ${row.inside}`;
  link.append(title, where);
  const entry = document.createElement("li");
  entry.append(link);
  return entry;
};

const show = () => {
  const words = plain(input.value).split(" ").filter(Boolean);
  if (!words.length || !rows) {
    list.replaceChildren();
    told.textContent = words.length ? "Looking …" : "";
    return;
  }
  const found = rows.map((row) => [score(row, words), row]).filter(([sum]) => sum !== null);
  found.sort(([a], [b]) => a - b);
  list.replaceChildren(...found.slice(0, MOST).map(([, row]) => item(row)));
  told.textContent = found.length > MOST ? `${found.length} found, the first ${MOST} shown; another word narrows it down`
    : found.length ? `${found.length} found` : "Nothing found. Try fewer or shorter words.";
};

const step = (way) => {
  const links = [...list.querySelectorAll("a")];
  const next = links.indexOf(document.activeElement) + way;
  (next < 0 ? input : links[Math.min(next, links.length - 1)] ?? input).focus();
};

form.hidden = false;
input.addEventListener("focus", load);
input.addEventListener("input", () => { load(); show(); });
form.addEventListener("submit", (event) => {
  event.preventDefault();
  list.querySelector("a")?.click();
});
form.addEventListener("keydown", (event) => {
  if (event.key === "ArrowDown") step(1);
  else if (event.key === "ArrowUp") step(-1);
  else if (event.key === "Escape") { input.value = ""; show(); input.focus(); }
  else return;
  event.preventDefault();
});
addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey || event.target === input) return;
  event.preventDefault();
  input.focus();
});
}
