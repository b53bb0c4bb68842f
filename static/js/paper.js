// Typing a paper sheet in without leaving the keyboard. Without this file it is a plain form.
"use strict";

const form = document.querySelector("form.entry");

function startTyping() {
  const rows = [...form.querySelectorAll("tr[data-line]")];
  const keys = rows.map((row) => row.querySelector(".state-key"));
  // The page's own legend says what each letter stands for.
  const letters = [...document.querySelectorAll(".legend b[data-words]")];
  const words = new Map(letters.map((letter) => [letter.textContent, letter.dataset.words]));
  const count = document.getElementById("entry-count");
  let unsaved = form.querySelector(".wrong") !== null;

  function show(row) {
    const key = row.querySelector(".state-key");
    row.querySelector(".state-words").textContent = words.get(key.value.toUpperCase()) ?? (key.value ? "No such state" : "");
    const filled = keys.filter((one) => one.value).length;
    count.textContent = `${filled} of ${keys.length} lines have a state.`;
  }

  function goTo(index) {
    const key = keys[Math.min(Math.max(index, 0), keys.length - 1)];
    key.focus();
    key.select();
  }

  form.addEventListener("input", (event) => {
    const row = event.target.closest("tr[data-line]");
    if (!row) return;
    unsaved = true;
    show(row);
  });

  form.addEventListener("keydown", (event) => {
    const at = rows.indexOf(event.target.closest("tr[data-line]"));
    if (at < 0 || event.isComposing) return;
    // Up and down change a number and a choice by themselves: there they are left alone.
    const free = event.target.type === "text";
    if (event.key === "Enter" && event.ctrlKey) form.requestSubmit();
    else if (event.key === "Enter" && at === rows.length - 1) form.querySelector("button[type=submit]").focus();
    else if (event.key === "Enter" || (free && event.key === "ArrowDown")) goTo(at + 1);
    else if (free && event.key === "ArrowUp") goTo(at - 1);
    else return;
    event.preventDefault();
  });

  const box = document.getElementById("goto");
  const lines = rows.map((row) => row.dataset.line.toLowerCase());
  document.getElementById("goto-box").hidden = false;
  box.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    const wanted = box.value.trim().toLowerCase();
    const digits = (text) => text.replace(/\D+/g, " ").trim();
    // A whole label first; else the digits in it, as a number pad would type them.
    const exact = lines.indexOf(wanted);
    const found = exact >= 0 ? exact : lines.findIndex((line) => wanted && digits(line) === wanted);
    if (found < 0) return box.select();
    box.value = "";
    goTo(found);
  });

  form.addEventListener("submit", () => { unsaved = false; });
  window.addEventListener("beforeunload", (event) => {
    if (unsaved) event.preventDefault();
  });
  rows.forEach(show);
  const wrong = rows.findIndex((row) => row.classList.contains("wrong"));
  if (wrong >= 0) goTo(wrong);
}

if (form) startTyping();
