// Zoom of a procedure's drawing: the drawing's width, in steps; the rest is the browser's own scrolling.
// A classic script: from a file on disk, browsers load no modules.
{
const STEP = 1.25, LEAST = 0.15, MOST = 3;

for (const drawing of document.querySelectorAll(".drawing")) {
  const svg = drawing.querySelector("svg");
  const canvas = drawing.querySelector(".canvas");
  const bar = drawing.querySelector(".zoom");
  const told = bar.querySelector("output");
  const width = Number(drawing.dataset.width);
  let zoom = 1;

  const set = (next) => {
    const middle = (canvas.scrollLeft + canvas.clientWidth / 2) / (width * zoom);
    zoom = Math.min(MOST, Math.max(LEAST, next));
    svg.style.width = `${width * zoom}px`;
    svg.style.height = "auto";
    canvas.scrollLeft = zoom === 1 && next === 1 ? 0 : middle * width * zoom - canvas.clientWidth / 2;
    told.textContent = `${Math.round(100 * zoom)} %`;
  };

  bar.hidden = false;
  bar.addEventListener("click", (event) => {
    const way = event.target.closest("button")?.dataset.zoom;
    if (way === "in") set(zoom * STEP);
    else if (way === "out") set(zoom / STEP);
    else if (way === "whole") set(canvas.clientWidth / width);
    else if (way === "size") set(1);
  });
  canvas.addEventListener("keydown", (event) => {
    if (event.target !== canvas) return;
    if (event.key === "+") set(zoom * STEP);
    else if (event.key === "-") set(zoom / STEP);
    else return;
    event.preventDefault();
  });
  set(1);
  canvas.scrollTop = Number(svg.querySelector("rect").getAttribute("y")) - 60;
}

// A step named in the address stands inside a closed part: open it, and go there.
const show = () => {
  const step = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const part = step?.closest("details");
  if (!part) return;
  part.open = true;
  step.scrollIntoView();
  step.focus({ preventScroll: true });
};
addEventListener("hashchange", show);
show();
}
