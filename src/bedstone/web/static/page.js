// Small helps for hands and scanners. Every page works without them.

import { setUpBars } from "./bars.js";

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

// The graph of a trace opens where the traced lot stands.
for (const here of document.querySelectorAll(".lots-graph .node.here")) {
  const picture = here.closest(".picture");
  const box = here.getBoundingClientRect();
  picture.scrollLeft += box.left - picture.getBoundingClientRect().left - picture.clientWidth / 2;
}
