// Small help for every page: honest failures, a menu that is open where there is room for it.
"use strict";

const lost = document.getElementById("connection-lost");

function tell(shown) {
  lost.hidden = !shown;
  if (shown) lost.scrollIntoView({ block: "center" });
}

document.addEventListener("htmx:sendError", () => tell(true));
document.addEventListener("htmx:responseError", () => tell(true));
document.addEventListener("htmx:afterOnLoad", () => tell(false));

const menu = document.getElementById("menu");
const wide = window.matchMedia("(min-width: 60rem)");

function fitMenu() {
  menu.open = wide.matches;
}

if (menu) {
  const here = menu.querySelector(`a[href="${window.location.pathname}"]`);
  if (here) here.setAttribute("aria-current", "page");
  fitMenu();
  wide.addEventListener("change", fitMenu);
}
