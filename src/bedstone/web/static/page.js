// Small helps for hands and scanners. Every page works without them.

import { setUpBars } from "./bars.js";
import { setUpMixing } from "./mixing.js";

// PIN pad: buttons type into the field.
for (const pad of document.querySelectorAll("[data-pad]")) {
  const field = document.getElementById(pad.dataset.pad);
  pad.hidden = false;
  pad.addEventListener("click", (event) => {
    const digit = event.target.closest("[data-digit]")?.dataset.digit;
    if (digit === undefined) return;
    if (digit === "clear") field.value = "";
    else if (digit === "back") field.value = field.value.slice(0, -1);
    else field.value += digit;
  });
}

// A scanner types a code and Enter. Typing anywhere but in a field goes to the scan box.
const scan = document.getElementById("scan-code");
const typing = "input, select, textarea, button, a, summary, [role=button], [contenteditable]";
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.key.length !== 1 || event.key === " ") return;
  if (event.target instanceof Element && event.target.closest(typing)) return;
  scan?.focus();
});

// In a long form, Enter goes to the next field; a scanner's Enter must not send the form.
for (const form of document.querySelectorAll("form[data-enter=next]")) {
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("input:not([type=submit])")) return;
    event.preventDefault();
    const fields = [...form.querySelectorAll("input:not([type=hidden]), select, textarea, button")].filter((one) => !one.disabled);
    fields[fields.indexOf(event.target) + 1]?.focus();
  });
}

for (const picture of document.querySelectorAll("[data-bars]")) setUpBars(picture);
for (const clock of document.querySelectorAll("[data-mixing]")) setUpMixing(clock);

// The graph of a trace opens where the traced lot stands.
for (const here of document.querySelectorAll(".lots-graph .node.here")) {
  const picture = here.closest(".picture");
  const box = here.getBoundingClientRect();
  picture.scrollLeft += box.left - picture.getBoundingClientRect().left - picture.clientWidth / 2;
}

// A large picture is made larger and smaller by buttons and by keys.
for (const bar of document.querySelectorAll("[data-zoom]")) {
  const picture = document.getElementById(bar.dataset.zoom);
  const drawn = picture.querySelector("svg");
  if (!drawn) continue;
  const whole = Number(drawn.getAttribute("width"));
  let scale = 0;
  bar.hidden = false;
  const by = (factor) => {
    const now = drawn.getBoundingClientRect().width / whole;
    scale = factor === 0 ? 0 : Math.min(4, Math.max(0.15, now * factor));
    drawn.classList.toggle("zoomed", scale > 0);
    if (scale > 0) drawn.setAttribute("width", whole * scale);
    else drawn.setAttribute("width", whole);
  };
  bar.addEventListener("click", (event) => {
    const button = event.target.closest("[data-by]");
    if (button) by(Number(button.dataset.by));
  });
  picture.addEventListener("keydown", (event) => {
    const factor = { "+": 1.25, "=": 1.25, "-": 0.8, 0: 0 }[event.key];
    if (factor === undefined || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    event.stopPropagation(); // or it would go to the scan box
    by(factor);
  });
}
