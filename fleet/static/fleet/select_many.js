// Ticking many rows of a list: one box ticks all that are shown, a line counts them.
"use strict";

(() => {
  for (const list of document.querySelectorAll("[data-select-many]")) {
    const boxes = [...list.querySelectorAll("[data-row-tick]")];
    const all = list.querySelector("[data-all-ticks]");
    const count = list.querySelector("[data-tick-count]");

    const tell = () => {
      const ticked = boxes.filter((box) => box.checked).length;
      if (count) count.textContent = ticked === 0 ? "None ticked" : `${ticked} ticked`;
      if (all) {
        all.checked = ticked > 0 && ticked === boxes.length;
        all.indeterminate = ticked > 0 && ticked < boxes.length;
      }
    };

    list.addEventListener("change", (event) => {
      if (event.target === all) boxes.forEach((box) => { box.checked = all.checked; });
      tell();
    });
    if (all) all.closest("[hidden]")?.removeAttribute("hidden");
    tell();
  }
})();
