// The bench page's small helps. Without them every form still works.

const job = document.querySelector("[data-job]");

// Where a typed reading lands on the scale, as the program understands it.
const input = document.querySelector("#text[data-check]");
if (job && input) {
  const said = document.querySelector("#lands");
  let asked = 0;
  const show = (at) => {
    for (const svg of document.querySelectorAll("#scale svg")) {
      const mark = svg.querySelector(".lands");
      mark.toggleAttribute("hidden", at === null);
      if (at !== null) {
        const x = Number(svg.dataset.side) + Number(svg.dataset.inner) * at;
        mark.setAttribute("transform", `translate(${x.toFixed(1)} 0)`);
      }
    }
  };
  const land = async () => {
    const text = input.value.trim();
    const turn = ++asked;
    if (!text) { said.textContent = ""; show(null); return; }
    const query = new URLSearchParams({ check: input.dataset.check, text });
    const answer = await fetch(`/api/bench/${job.dataset.job}/lands?${query}`).catch(() => null);
    if (turn !== asked || !answer || !answer.ok) return;
    const found = await answer.json();
    said.textContent = found.error || `Understood as ${found.understood}`;
    show(found.at);
  };
  let waiting;
  input.addEventListener("input", () => { clearTimeout(waiting); waiting = setTimeout(land, 150); });
  if (input.value) land();
}

// A form is sent once, however often it is pressed.
for (const form of document.querySelectorAll("form[method=post]")) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) event.preventDefault();
    form.dataset.sent = "yes";
  });
}
addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
});

// Minutes go on while the page is open; what counts is what the library stored.
const opened = Date.now();
const tick = () => {
  const gone = (Date.now() - opened) / 60000;
  for (const span of document.querySelectorAll(".minutes[data-counting='1']")) {
    span.textContent = (Number(span.dataset.minutes) + gone).toFixed(1);
  }
  const soak = document.querySelector(".soak[data-until]");
  if (soak) {
    const left = (new Date(soak.dataset.until) - Date.now()) / 1000;
    const text = left > 0 ? `${Math.floor(left / 60)} min ${Math.floor(left % 60)} s left` : "It is over.";
    soak.querySelector(".left").textContent = text;
  }
};
if (job) { tick(); setInterval(tick, 1000); }

// Two people on one job: say that there is something new, and let the reader choose when to look.
if (job) {
  const look = async () => {
    const answer = await fetch(`/api/bench/${job.dataset.job}`).catch(() => null);
    if (!answer || !answer.ok) return;
    const found = await answer.json();
    if (found.last > Number(job.dataset.last)) document.querySelector("#newer").hidden = false;
  };
  setInterval(look, 5000);
}

// The list of boards shrinks to what is typed.
const filter = document.querySelector("[data-filters]");
if (filter) {
  filter.addEventListener("input", () => {
    const words = filter.value.toLowerCase().split(/\s+/).filter(Boolean);
    for (const section of document.querySelectorAll(`${filter.dataset.filters} > *`)) {
      const text = `${section.dataset.words} ${section.textContent}`.toLowerCase();
      section.hidden = !words.every((word) => text.includes(word));
    }
    const none = document.querySelector("#none");
    none.hidden = Boolean(document.querySelector(`${filter.dataset.filters} > :not([hidden])`));
  });
}

const print = document.querySelector("#print");
if (print) { print.hidden = false; print.addEventListener("click", () => window.print()); }

// Between what the rest mostly costs: it takes a moment, so it comes after the page.
const spread = document.querySelector("#spread");
if (job && spread) {
  const answer = await fetch(`/api/bench/${job.dataset.job}/cost`).catch(() => null);
  const found = answer && answer.ok ? await answer.json() : { said: "" };
  if (found.said) {
    const end = Math.max(found.most, found.high, found.expected) || 1;
    const band = spread.querySelector("#spread-band");
    band.setAttribute("x", (100 * found.low) / end);
    band.setAttribute("width", (100 * (found.high - found.low)) / end);
    spread.querySelector("#spread-mark").setAttribute("x", Math.min(99.2, (100 * found.expected) / end));
    spread.querySelector("#spread-said").textContent = found.said;
    spread.hidden = false;
  }
}
