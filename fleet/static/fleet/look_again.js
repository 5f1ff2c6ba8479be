// A page that waits for long work asks whether it is done, and shows the outcome when it is.
"use strict";

(() => {
  const waiting = document.querySelector("[data-at-work]");
  if (!waiting) return;
  const ask = async () => {
    try {
      const answer = await fetch(window.location.href, { credentials: "same-origin" });
      if (answer.ok && !(await answer.text()).includes("data-at-work")) {
        window.location.reload();
        return;
      }
    } catch {
      // No network just now: the next try is in a moment.
    }
    window.setTimeout(ask, 3000);
  };
  window.setTimeout(ask, 3000);
})();
