// The field sheet: what is filled in becomes a file. Nothing is sent; where the browser allows it, a copy is kept.
"use strict";
(() => {
  const main = document.getElementById("sheet");
  const key = `asflown field ${main.dataset.aircraft} ${main.dataset.refit}`;
  const cards = [...document.querySelectorAll("[data-card]")];
  const flights = [...document.querySelectorAll("[data-flight]")];
  const inputs = [...document.querySelectorAll("main input, main textarea")];
  const says = document.getElementById("says");
  const text = document.getElementById("text");
  const name = document.getElementById("name");
  const times = {};
  let unsaved = false;
  let keeps = true;

  const whole = (element) => element.value.trim();
  const now = () => new Date().toISOString().slice(0, 19) + "Z";
  const result = (card) => (card.querySelector("input[type=radio]:checked") || {}).value || "";
  const cardEntry = (card) => ({
    card: card.dataset.card,
    print: card.dataset.print,
    result: result(card),
    note: whole(card.querySelector("[data-note]")),
    seen: [...card.querySelectorAll("[data-seen]:checked")].map((one) => one.dataset.seen),
    values: [...card.querySelectorAll("[data-value]")].filter(whole)
      .map((one) => ({ what: one.dataset.value, value: whole(one), unit: one.dataset.unit })),
    at: times[card.dataset.card] || "",
  });
  const flightEntry = (flight) => ({
    number: Number(flight.dataset.flight),
    log: whole(flight.querySelector("[data-log]")),
    seconds: whole(flight.querySelector("[data-seconds]")),
    note: whole(flight.querySelector("[data-note]")),
    at: times[`flight ${flight.dataset.flight}`] || "",
  });
  const isFlown = (one) => one.log || one.seconds || one.note;
  const isBegun = (one) => one.note || one.seen.length || one.values.length;
  // a card that was begun and has no result is not in the file, and that is said
  const entries = () => ({
    file: "asflown field entries",
    version: 1,
    aircraft: main.dataset.aircraft,
    refit: main.dataset.refit,
    name: whole(name),
    cards: cards.map(cardEntry).filter((one) => one.result),
    flown: flights.map(flightEntry).filter(isFlown),
  });

  const show = () => {
    const made = entries();
    for (const card of cards) {
      const label = card.querySelector(".result");
      const word = result(card);
      label.textContent = word || label.dataset.was;
      label.classList.toggle("filled-in", Boolean(word));
    }
    for (const flight of flights) {
      const label = flight.querySelector(".result");
      const is = Boolean(isFlown(flightEntry(flight)));
      label.textContent = is ? "written down" : "not written down";
      label.classList.toggle("filled-in", is);
    }
    const open = cards.map(cardEntry).filter((one) => !one.result && isBegun(one)).map((one) => one.card);
    const lacks = made.cards.filter((one) => one.result !== "pass" && !one.note).map((one) => one.card);
    const parts = [`${made.cards.length} cards with a result, ${made.flown.length} flights.`];
    if (open.length) parts.push(`Without a result, so not in the file: ${open.join(", ")}.`);
    if (lacks.length) parts.push(`Say in the note what was seen or why not: ${lacks.join(", ")}.`);
    if (!keeps) parts.push("This browser keeps nothing: save before you close it.");
    says.textContent = parts.join(" ");
    text.value = JSON.stringify(made, null, 2);
  };

  const stateOf = () => ({
    times,
    values: inputs.map((one) => (one.type === "radio" || one.type === "checkbox" ? one.checked : one.value)),
    prints: cards.map((one) => one.dataset.print),
  });
  const keep = () => {
    try {
      localStorage.setItem(key, JSON.stringify(stateOf()));
      keeps = true;
    } catch {
      keeps = false;
    }
  };
  const restore = () => {
    try {
      const kept = JSON.parse(localStorage.getItem(key) || "null");
      const same = kept && kept.values.length === inputs.length
        && JSON.stringify(kept.prints) === JSON.stringify(cards.map((one) => one.dataset.print));
      if (!same) return;
      inputs.forEach((one, n) => {
        if (one.type === "radio" || one.type === "checkbox") one.checked = kept.values[n] === true;
        else one.value = String(kept.values[n]);
      });
      Object.assign(times, kept.times);
    } catch {
      keeps = false;
    }
  };

  main.addEventListener("input", (event) => {
    const card = event.target.closest("[data-card]");
    const flight = event.target.closest("[data-flight]");
    if (card) times[card.dataset.card] = now();
    if (flight) times[`flight ${flight.dataset.flight}`] = now();
    unsaved = true;
    keep();
    show();
  });
  document.getElementById("button").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text.value + "\n"], { type: "application/json" }));
    link.download = `${main.dataset.refit}-entries.json`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
    unsaved = false;
    show();
    says.textContent += ` Saved as ${link.download}; look that it is there.`;
  });
  window.addEventListener("beforeunload", (event) => {
    if (unsaved && !keeps) event.preventDefault();
  });
  restore();
  keep();
  show();
  document.getElementById("save").hidden = false;
  document.getElementById("as-text").hidden = false;
})();
