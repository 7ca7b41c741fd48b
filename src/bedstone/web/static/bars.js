// A picture of the day: one stop for the Tab key, arrow keys inside, details below.

export function setUpBars(picture) {
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
    picture.dispatchEvent(new CustomEvent("bar-shown", { detail: { bar, into: detail } }));
  };
  picture.addEventListener("focusin", (event) => {
    const bar = event.target.closest(".bar");
    if (bar) show(bar);
  });
  picture.addEventListener("pointerover", (event) => {
    const bar = event.target.closest(".bar");
    if (bar && event.pointerType === "mouse" && !picture.hasAttribute("data-quiet")) show(bar);
  });
  picture.addEventListener("click", (event) => {
    const bar = event.target.closest(".bar");
    if (bar) { bar.focus(); show(bar); }
  });
  picture.addEventListener("keydown", (event) => {
    if (event.shiftKey) return;
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
