// Help for cold hands: buttons that step a reading, and one line chosen at a time.
// Without this file the page works: the reading is typed, a typed line number wins over a touched one.
"use strict";

function stepButton(text, name, input, step, start) {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = text;
  button.setAttribute("aria-label", name);
  button.addEventListener("click", () => {
    const value = input.value === "" ? start : Math.max(0, Number(input.value) + step);
    input.value = value.toFixed(1);
  });
  return button;
}

for (const box of document.querySelectorAll(".stepper")) {
  const input = box.querySelector("input");
  const step = Number(box.dataset.step);
  const start = parseFloat(box.dataset.start);
  const row = document.createElement("div");
  row.className = "stepper-row";
  input.replaceWith(row);
  row.append(
    stepButton("−", `Less by ${step}`, input, -step, start),
    input,
    stepButton("+", `More by ${step}`, input, step, start),
  );
}

const typed = document.querySelector("form.check input[name='label']");
const picked = document.querySelectorAll("form.check input[name='line']");
if (typed) {
  typed.addEventListener("input", () => {
    if (typed.value) for (const radio of picked) radio.checked = false;
  });
  for (const radio of picked) {
    radio.addEventListener("change", () => {
      typed.value = "";
    });
  }
}
