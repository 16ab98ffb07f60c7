// While a sheet is being read or taken in, say how far it is, and show the result as soon as there is one.
const work = document.getElementById("work");
const progress = document.getElementById("progress");
const number = new Intl.NumberFormat("en");

async function look() {
  try {
    const answer = await fetch(work.dataset.status, { headers: { accept: "application/json" } });
    const told = await answer.json();
    if (!answer.ok || told.state !== "working") {
      location.reload();
      return;
    }
    document.getElementById("stage").textContent = told.stage;
    if (told.total) {
      progress.max = told.total;
      progress.value = told.done;
      const soFar = `${number.format(told.done)} of about ${number.format(told.total)}`;
      document.getElementById("so-far").textContent = soFar;
    }
  } catch {
    document.getElementById("so-far").textContent = "The app does not answer; trying again.";
  }
  setTimeout(look, 700);
}

if (work) setTimeout(look, 500);
