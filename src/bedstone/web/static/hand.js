// Runs dragged on their mixer, or moved by keys. The server says what each order costs and breaks;
// every move also stands as a button on the page, which works without this.

import { setUpBars } from "./bars.js";

const MOVED_PX = 6;
const ASK_MS = 60;
const page = document.getElementById("hand");

// Put the answer of the server in the place of what stands there, and keep the focus on its run.
async function send(address, fields, run) {
  const answer = await fetch(address, {
    method: "POST",
    body: new URLSearchParams(fields),
    headers: { "HX-Request": "true" },
  });
  page.innerHTML = await answer.text();
  setUp();
  const again = run && page.querySelector(`.bar[data-run="${CSS.escape(run)}"]`);
  if (again) again.focus();
  else page.querySelector(".hand-acts button:not(:disabled)")?.focus();
}

function hidden() {
  const value = (name) => document.querySelector(`input[name=${name}]`)?.value ?? "";
  return { token: value("token"), after: value("after") };
}

const move = (picture, fields) => send(`${picture.dataset.hand}/move`, { ...hidden(), ...fields }, fields.run);

page?.addEventListener("submit", (event) => {
  const form = event.target.closest("form[data-swap]");
  if (!form) return;
  event.preventDefault();
  const fields = new FormData(form);
  send(form.action, fields, fields.get("run"));
});

// Which run a bar would come before, if it were let go at a place of a lane.
function placeAt(picture, at, dragged) {
  const svg = picture.querySelector("svg");
  const lanes = [...svg.querySelectorAll("rect.lane")].filter((lane) =>
    svg.querySelector(`.bar[data-run][data-machine="${CSS.escape(lane.dataset.machine)}"]`) || lane.dataset.machine === dragged.machine);
  const lane = lanes.find((one) => at.y >= one.y.baseVal.value && at.y <= one.y.baseVal.value + one.height.baseVal.value);
  if (!lane) return null;
  const runs = new Map();
  for (const bar of svg.querySelectorAll(`.bar[data-run][data-machine="${CSS.escape(lane.dataset.machine)}"]`)) {
    const body = bar.querySelector("rect.body");
    const left = body.x.baseVal.value;
    const right = left + body.width.baseVal.value;
    const known = runs.get(bar.dataset.run) ?? { left, right };
    runs.set(bar.dataset.run, { left: Math.min(known.left, left), right: Math.max(known.right, right) });
  }
  const others = [...runs].filter(([run]) => run !== dragged.run).sort((a, b) => a[1].left - b[1].left);
  const next = others.find(([, span]) => (span.left + span.right) / 2 > at.x);
  const last = others.at(-1);
  return {
    mixer: lane.dataset.machine,
    before: next ? next[0] : "",
    x: next ? next[1].left : last ? last[1].right : lane.x.baseVal.value,
    top: lane.y.baseVal.value,
    height: lane.height.baseVal.value,
  };
}

function pointIn(svg, event) {
  return new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
}

function mark(svg, name, box) {
  let shape = svg.querySelector(`.${name}`);
  if (!shape) {
    shape = document.createElementNS(svg.namespaceURI, "rect");
    shape.setAttribute("class", name);
    shape.setAttribute("pointer-events", "none");
    svg.append(shape);
  }
  for (const [key, value] of Object.entries(box)) shape.setAttribute(key, value);
}

export function setUpDrag(picture, { onDrop, onOver, onAway }) {
  const svg = picture.querySelector("svg");
  let held = null;
  const letGo = () => {
    svg.querySelectorAll(".ghost, .drop-mark").forEach((one) => one.remove());
    held = null;
  };
  svg.addEventListener("pointerdown", (event) => {
    const bar = event.target.closest(".bar[data-run]");
    if (!bar || event.button !== 0) return;
    const body = bar.querySelector("rect.body");
    const from = pointIn(svg, event);
    held = {
      run: bar.dataset.run, machine: bar.dataset.machine, pointer: event.pointerId, bar,
      x0: event.clientX, y0: event.clientY, moving: false, place: null,
      dx: from.x - body.x.baseVal.value, dy: from.y - body.y.baseVal.value,
      width: body.width.baseVal.value, height: body.height.baseVal.value,
    };
  });
  svg.addEventListener("pointermove", (event) => {
    if (!held || event.pointerId !== held.pointer) return;
    if (!held.moving && Math.hypot(event.clientX - held.x0, event.clientY - held.y0) < MOVED_PX) return;
    if (!held.moving) { held.moving = true; svg.setPointerCapture(event.pointerId); }
    event.preventDefault();
    const at = pointIn(svg, event);
    mark(svg, "ghost", { x: at.x - held.dx, y: at.y - held.dy, width: held.width, height: held.height, rx: 3 });
    const place = placeAt(picture, at, held);
    if (place) mark(svg, "drop-mark", { x: place.x - 3, y: place.top, width: 6, height: place.height });
    else svg.querySelector(".drop-mark")?.remove();
    const changed = place?.mixer !== held.place?.mixer || place?.before !== held.place?.before;
    held.place = place;
    if (changed) place ? onOver?.(held.run, place) : onAway?.();
  });
  svg.addEventListener("pointerup", (event) => {
    if (!held || event.pointerId !== held.pointer) return;
    const { run, place, moving } = held;
    letGo();
    if (moving && place) onDrop(run, place);
    else onAway?.();
  });
  const giveUp = () => { letGo(); onAway?.(); };
  svg.addEventListener("pointercancel", giveUp);
  document.addEventListener("keydown", (event) => { if (event.key === "Escape" && held) giveUp(); });
}

// While a bar is held: what letting go there would cost and break.
let asked = 0;
let waiting = null;
let standing = null; // what is said of the order as it stands, kept while something else is said
function sayStanding() {
  clearTimeout(waiting);
  asked++;
  const says = document.getElementById("hand-says");
  if (says && standing !== null) says.innerHTML = standing;
  standing = null;
}
// A key that moves nothing says why, in words.
function sayWhyNot(bar, step) {
  const says = document.getElementById("hand-says");
  if (!says) return;
  const { run } = bar.dataset;
  const row = document.getElementById(`run-${run}`);
  const words = document.createElement("p");
  words.textContent = !row ? `${run} is not to be moved.`
    : step === "Earlier" ? `${run} is the first on its mixer already: there is no earlier place for it.`
    : step === "Later" ? `${run} is the last on its mixer already: there is no later place for it.`
    : `${run} stays on its mixer: no way of its feed and pack in the routes table goes over another, or none other takes a batch of it.`;
  clearTimeout(waiting);
  asked++;
  standing ??= says.innerHTML;
  says.replaceChildren(words);
}
function askAbout(picture, run, place) {
  clearTimeout(waiting);
  waiting = setTimeout(async () => {
    const number = ++asked;
    const query = new URLSearchParams({ run, mixer: place.mixer, before: place.before });
    const answer = await fetch(`${picture.dataset.hand}/try?${query}`, { headers: { "HX-Request": "true" } });
    const text = await answer.text();
    const says = document.getElementById("hand-says");
    if (number !== asked || !says) return;
    standing ??= says.innerHTML;
    says.innerHTML = text;
  }, ASK_MS);
}

function setUp() {
  for (const picture of page.querySelectorAll("[data-bars]")) setUpBars(picture);
  for (const picture of page.querySelectorAll("[data-hand]")) {
    setUpDrag(picture, {
      onOver: (run, place) => askAbout(picture, run, place),
      onAway: sayStanding,
      onDrop: (run, place) => { clearTimeout(waiting); asked++; standing = null; move(picture, { run, mixer: place.mixer, before: place.before }); },
    });
    picture.addEventListener("bar-shown", (event) => showActs(event.detail.bar, event.detail.into));
    picture.addEventListener("keydown", (event) => {
      const bar = event.target.closest(".bar[data-run]");
      if (!bar || !event.shiftKey) return;
      const step = { ArrowLeft: "Earlier", ArrowRight: "Later", ArrowUp: "To ", ArrowDown: "To " }[event.key];
      if (!step) return;
      event.preventDefault();
      const buttons = [...(document.getElementById(`run-${bar.dataset.run}`)?.querySelectorAll("form button") ?? [])];
      const button = buttons.find((one) => one.textContent.startsWith(step) && !one.disabled);
      if (!button) return sayWhyNot(bar, step);
      standing = null;
      button.form.requestSubmit();
    });
  }
}

// Beside what a bar is: the buttons of its run, as they stand in the order of running.
function showActs(bar, into) {
  const row = bar.dataset.run && document.getElementById(`run-${bar.dataset.run}`)?.querySelector(".row");
  if (row) into.append(row.cloneNode(true));
}

if (page) setUp();

// On Today a dropped bar opens the plan to be moved by hand, with that move made.
const opener = document.getElementById("open-by-hand");
const today = document.querySelector("[data-draggable]");
if (opener && today) {
  setUpDrag(today, {
    onDrop: (run, place) => {
      for (const [name, value] of Object.entries({ run, mixer: place.mixer, before: place.before })) opener.elements[name].value = value;
      opener.requestSubmit();
    },
  });
}
