// News of the soak shelf, on every page of the bench: who looks at another job hears of a soak that is done.

const rings = document.querySelector("#rings");
const switched = document.querySelector("#ring");
const changed = document.querySelector("#changed");
const plain = document.title;
const EVERY = 10000;

const told = () => { try { return JSON.parse(localStorage.getItem("benchlore-told")) || {}; } catch { return {}; } };
const keep = (name, text) => { try { localStorage.setItem(name, text); } catch { /* a browser that keeps nothing */ } };
const isOn = () => { try { return localStorage.getItem("benchlore-ring") === "on"; } catch { return false; } };

// Two short tones, made here: nothing is fetched, and no file is played.
const sound = () => {
  try {
    const audio = new AudioContext();
    for (const start of [0, 0.35]) {
      const tone = audio.createOscillator();
      const loud = audio.createGain();
      loud.gain.value = 0.15;
      tone.frequency.value = 660;
      tone.connect(loud).connect(audio.destination);
      tone.start(audio.currentTime + start);
      tone.stop(audio.currentTime + start + 0.2);
    }
  } catch { /* a machine without sound */ }
};
const notify = (text) => {
  if ("Notification" in window && Notification.permission === "granted") new Notification("Soak shelf", { body: text });
};

const showRings = (ringing) => {
  const lines = ringing.map((each) => each.rings).join("\n");
  if (rings.dataset.lines !== lines) {
    rings.dataset.lines = lines;
    rings.replaceChildren(...ringing.map((each) => {
      const line = document.createElement("p");
      const link = document.createElement("a");
      line.className = "rings";
      link.href = `/shelf#soak-${each.key}`;
      link.textContent = each.rings;
      line.append(link);
      return line;
    }));
  }
  document.title = ringing.length ? `(${ringing.length}) Soak: ${plain}` : plain;
  const before = told();
  const fresh = ringing.filter((each) => before[each.key] !== `${each.state} ${each.started}`);
  if (fresh.length && isOn()) { sound(); notify(fresh.map((each) => each.rings).join("\n")); }
  keep("benchlore-told", JSON.stringify(Object.fromEntries(ringing.map((each) => [each.key, `${each.state} ${each.started}`]))));
};

const showRows = (found) => {
  if (!changed) return;
  const rows = [...document.querySelectorAll("[data-soak]")];
  for (const row of rows) {
    const now = found.find((each) => each.key === row.dataset.soak);
    if (now && now.last === Number(row.dataset.last)) {
      const said = row.querySelector(".said");
      if (said.textContent !== now.said) said.textContent = now.said;
      row.dataset.state = now.state;
    } else changed.hidden = false;
  }
  if (found.some((each) => !rows.some((row) => row.dataset.soak === each.key))) changed.hidden = false;
};

const look = async () => {
  const answer = await fetch("/api/shelf").catch(() => null);
  if (!answer || !answer.ok) return;
  const found = await answer.json();
  showRings(found.filter((each) => each.rings));
  showRows(found);
};
if (rings) { look(); setInterval(look, EVERY); }

if (switched) {
  switched.hidden = false;
  switched.setAttribute("aria-pressed", String(isOn()));
  switched.addEventListener("click", () => {
    const on = !isOn();
    keep("benchlore-ring", on ? "on" : "off");
    switched.setAttribute("aria-pressed", String(on));
    if (!on) return;
    sound();
    if ("Notification" in window && Notification.permission === "default") Notification.requestPermission();
  });
}
