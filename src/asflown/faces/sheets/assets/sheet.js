// Keys and small helps of a sheet; every page works without it.
"use strict";
(() => {
  const typing = (target) => target.closest("input:not([type=radio]):not([type=checkbox]), textarea, select");
  const groups = () => [...document.querySelectorAll(".group")];
  const inView = (one) => {
    one.focus({ preventScroll: true });
    one.scrollIntoView({ block: "start" });
  };
  const here = () => document.activeElement && document.activeElement.closest(".group");
  const move = (step) => {
    const all = groups();
    if (!all.length) return;
    const place = all.indexOf(here());
    inView(all[place < 0 ? (step > 0 ? 0 : all.length - 1) : (place + step + all.length) % all.length]);
  };
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.key === "Escape" && typing(event.target)) {
      const group = here();
      if (group) group.focus();
      return;
    }
    if (typing(event.target)) return;
    const group = here();
    if (event.key === "n" || event.key === "p") {
      move(event.key === "n" ? 1 : -1);
    } else if (group && /^[1-9]$/.test(event.key)) {
      const way = group.querySelectorAll("input[type=radio]")[Number(event.key) - 1];
      if (!way) return;
      way.checked = true;
      way.focus();
    } else if (group && event.key === "w") {
      const why = group.querySelector("input[name=why], textarea[name=why]");
      if (!why) return;
      why.focus();
    } else {
      return;
    }
    event.preventDefault();
  });
  // after a part of the page was replaced: the error, or the next open question, is where one goes on
  document.addEventListener("htmx:afterSettle", () => {
    const error = document.getElementById("error");
    const next = error || document.querySelector(".group") || document.getElementById("sheet");
    if (next && !document.querySelector("main[hx-trigger]")) inView(next);
  });
  document.addEventListener("submit", (event) => {
    const button = event.target.querySelector("button[type=submit]");
    if (button) setTimeout(() => { button.disabled = true; }, 0);
  });
  window.addEventListener("pageshow", () => {
    for (const button of document.querySelectorAll("button[disabled]")) button.disabled = false;
  });
  // on a phone the way to the other sheets is folded; without a script it stays open
  const fold = () => {
    const others = document.querySelector(".others details");
    if (others && window.matchMedia("(max-width: 40rem)").matches) others.open = false;
  };
  fold();
  document.addEventListener("htmx:afterSettle", fold);
  const error = document.getElementById("error");
  if (error) error.focus();
})();
