// Small helps for hands and scanners. Every page works without them.

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

// The picture of the day: one stop for the Tab key, arrow keys inside, details below.
for (const picture of document.querySelectorAll("[data-bars]")) {
  const bars = [...picture.querySelectorAll(".bar")];
  const now = picture.querySelector(".nowline");
  if (now) picture.scrollLeft = Number(now.getAttribute("x1")) - picture.clientWidth / 2;
  const detail = document.getElementById(picture.dataset.bars);
  const show = (bar) => {
    for (const one of bars) {
      one.setAttribute("tabindex", one === bar ? "0" : "-1");
      one.setAttribute("aria-pressed", one === bar ? "true" : "false");
    }
    detail.replaceChildren();
    const words = document.createElement("p");
    words.textContent = bar.dataset.detail;
    detail.append(words);
    if (bar.dataset.href) {
      const link = document.createElement("a");
      link.href = bar.dataset.href;
      link.textContent = bar.dataset.linkWords;
      const line = document.createElement("p");
      line.append(link);
      detail.append(line);
    }
  };
  picture.addEventListener("focusin", (event) => {
    const bar = event.target.closest(".bar");
    if (bar) show(bar);
  });
  picture.addEventListener("pointerover", (event) => {
    const bar = event.target.closest(".bar");
    if (bar && event.pointerType === "mouse") show(bar);
  });
  picture.addEventListener("click", (event) => {
    const bar = event.target.closest(".bar");
    if (bar) { bar.focus(); show(bar); }
  });
  picture.addEventListener("keydown", (event) => {
    const at = bars.indexOf(event.target.closest(".bar"));
    if (at < 0) return;
    const lane = bars[at].dataset.lane;
    const lanes = [...new Set(bars.map((one) => one.dataset.lane))];
    let next = null;
    if (event.key === "ArrowRight") next = bars[at + 1];
    else if (event.key === "ArrowLeft") next = bars[at - 1];
    else if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      const other = lanes[lanes.indexOf(lane) + (event.key === "ArrowDown" ? 1 : -1)];
      next = bars.find((one) => one.dataset.lane === other);
    } else if ((event.key === "Enter" || event.key === " ") && bars[at].dataset.href) {
      location.href = bars[at].dataset.href;
      return;
    }
    if (next) { event.preventDefault(); next.focus(); }
  });
}

// The graph of a trace opens where the traced lot stands.
for (const here of document.querySelectorAll(".lots-graph .node.here")) {
  const picture = here.closest(".picture");
  const box = here.getBoundingClientRect();
  picture.scrollLeft += box.left - picture.getBoundingClientRect().left - picture.clientWidth / 2;
}
