// Prices and limits dragged on a formula's page: the answer beside them is asked for again while one
// drags. The newest answer counts; "Work it out" does the same without this.

const form = document.getElementById("ask");
const answer = document.getElementById("answer");
const keep = document.getElementById("keep");
let asked = 0;
let busy = false;
let again = false;

const query = () => new URLSearchParams(new FormData(form));

async function show(asks, number) {
  const got = await fetch(`${form.dataset.answer}?${asks}`, { headers: { "HX-Request": "true" } });
  const text = await got.text();
  if (number === asked) answer.innerHTML = text;
}

// What takes longer (why nothing fits, price ranges with odds) is asked for once the slider rests, so that
// dragging never waits for it.
let rest = 0;
function later(asks, number) {
  clearTimeout(rest);
  const more = answer.querySelector("[data-later]");
  if (!more) return;
  rest = setTimeout(() => {
    if (number !== asked) return;
    asks.set(more.dataset.later, "yes");
    show(asks, number);
  }, 400);
}

async function ask() {
  if (busy) { again = true; return; }
  busy = true;
  const number = ++asked;
  try {
    const asks = query();
    await show(asks, number);
    later(asks, number);
  } finally {
    busy = false;
    if (again) { again = false; ask(); }
  }
}

form?.addEventListener("input", (event) => {
  const output = event.target.type === "range" && event.target.parentElement.querySelector("output");
  if (output) output.textContent = event.target.name.startsWith("price.") ? Number(event.target.value).toFixed(2) : event.target.value;
  if (event.target.type === "range" || ["of", "nutrient", "assay"].includes(event.target.id)) ask();
});
form?.addEventListener("change", (event) => { if (event.target.id === "from") form.requestSubmit(); });

// What is kept is what is shown: the draft's form carries what was asked.
keep?.addEventListener("submit", () => {
  keep.querySelectorAll("[data-asked]").forEach((one) => one.remove());
  for (const [name, value] of query()) {
    const field = Object.assign(document.createElement("input"), { type: "hidden", name, value });
    field.dataset.asked = "";
    keep.append(field);
  }
});

if (form && answer) later(query(), asked);
