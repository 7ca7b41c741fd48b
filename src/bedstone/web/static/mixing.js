// The mixing clock of a batch: runs once the last dry ingredient is in, again once the liquids are.
// It lives in this browser alone, so a reload does not lose it; nothing of it is recorded.

const shown = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

export function setUpMixing(box) {
  const key = `mixing ${box.dataset.mixing}`;
  const need = { dry: Number(box.dataset.dryS), wet: Number(box.dataset.wetS) };
  const clock = box.querySelector("[data-clock]");
  const says = box.querySelector("[data-says]");
  let state = {};
  try {
    state = JSON.parse(localStorage.getItem(key)) ?? {};
  } catch {
    state = {}; // no store in this browser: the clock lasts as long as the page
  }
  const keep = () => {
    try {
      localStorage.setItem(key, JSON.stringify(state));
    } catch {
      // as above
    }
  };
  const say = (words) => {
    if (says.textContent !== words) says.textContent = words; // or it would be read out each second
  };
  const show = () => {
    const stage = state.wet ? "wet" : state.dry ? "dry" : "";
    if (!stage) {
      clock.textContent = "0:00";
      say("Runs once the last dry ingredient is in.");
      return;
    }
    const run = (Date.now() - state[stage]) / 1000;
    clock.textContent = `${shown(run)} of ${shown(need[stage])}`;
    const what = stage === "dry" ? "Mixing dry" : "Mixing with the liquids";
    const then = stage === "dry" && need.wet ? "Enough: let the liquids in." : "Enough: the batch may drop.";
    say(run >= need[stage] ? then : `${what}: not enough yet.`);
  };
  box.addEventListener("click", (event) => {
    const press = event.target.closest("[data-press]")?.dataset.press;
    if (!press) return;
    if (press === "again") state = {};
    else if (press === "dry") state = { dry: Date.now() };
    else state.wet = Date.now();
    keep();
    show();
  });
  // The clock starts by itself when every draw before the liquids has a number.
  const liquid = Number(box.dataset.firstLiquid) || Infinity;
  document.getElementById("batch-form")?.addEventListener("change", () => {
    const dry = [...document.querySelectorAll("input[id^=actual-]")].filter((one) => Number(one.id.slice(7)) < liquid);
    if (!state.dry && dry.length && dry.every((one) => one.value.trim())) {
      state.dry = Date.now();
      keep();
      show();
    }
  });
  box.hidden = false;
  show();
  setInterval(show, 500);
}
