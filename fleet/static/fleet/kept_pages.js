// Pages kept on this device for where there is no connection are one person's. Whoever is logged
// in finds none of another's, and who logs out leaves none. A store is named `kept:PERSON:ADDRESS`.
"use strict";

(() => {
  if (!window.caches) return;  // no such stores over plain HTTP from another machine
  const { person, keptAt } = document.documentElement.dataset;
  const forget = async (spared) => {
    for (const name of await caches.keys()) {
      if (name.startsWith("kept:") && !(spared && name.startsWith(`kept:${spared}:`))) await caches.delete(name);
    }
  };
  if (person && !keptAt) forget(person).catch(() => null);

  document.querySelector(".person form")?.addEventListener("submit", (event) => {
    event.preventDefault();
    const leave = () => event.target.submit();
    const pause = new Promise((resolve) => setTimeout(resolve, 1000));  // nobody is held back by it
    Promise.race([forget(""), pause]).then(leave, leave);
  });
})();
