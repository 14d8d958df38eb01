// Draws the figures of a sheet from the data that came with it; without it the page shows pictures.
"use strict";
(() => {
  const draw = () => {
    if (!window.Plotly) return;
    for (const place of document.querySelectorAll(".plot[data-figure]")) {
      const data = document.getElementById(place.dataset.figure);
      if (!data || place.childElementCount) continue;
      const figure = JSON.parse(data.textContent);
      place.hidden = false;
      window.Plotly.newPlot(place, figure.data, figure.layout, figure.config);
    }
  };
  draw();
  document.addEventListener("htmx:afterSettle", draw);
})();
