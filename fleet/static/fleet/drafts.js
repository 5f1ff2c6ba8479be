// A form's draft, kept in this tab only while it is being filled: a dropped connection or a
// locked phone loses nothing. Taken by the server, dropped or logged out: the draft goes.
"use strict";

(() => {
  const root = document.documentElement;
  if (root.dataset.draftsKept) return;
  root.dataset.draftsKept = "yes";

  const prefix = "draft:";
  const sent = "sent:";
  const forms = document.querySelectorAll("form[data-draft]");
  const person = root.dataset.person || "";
  const keyOf = (form) => `${prefix}${person}:${location.pathname}:${form.dataset.draft}`;
  const kept = (box) => box.name && !["hidden", "password", "file"].includes(box.type);

  const read = (key) => {
    try { return JSON.parse(sessionStorage.getItem(key)) || {}; } catch { return {}; }
  };
  const write = (form) => {
    const values = {};
    for (const box of form.elements) {
      if (!kept(box)) continue;
      if (box.type === "checkbox" || box.type === "radio") {
        if (box.checked) (values[box.name] ||= []).push(box.value);
        else values[box.name] ||= [];
      } else values[box.name] = [box.value];
    }
    try { sessionStorage.setItem(keyOf(form), JSON.stringify(values)); } catch { /* full: no draft */ }
  };
  const fill = (form, values) => {
    for (const box of form.elements) {
      const value = kept(box) ? values[box.name] : undefined;
      if (value === undefined) continue;
      if (box.type === "checkbox" || box.type === "radio") box.checked = value.includes(box.value);
      else if (value.length) box.value = value[0];
    }
  };

  // A form that was sent and did not come back was taken: its draft is spent.
  const here = new Set([...forms].map(keyOf));
  const thanked = document.querySelector(".note--fine") !== null;
  for (const mark of Object.keys(sessionStorage).filter((key) => key.startsWith(sent))) {
    const key = mark.slice(sent.length);
    if (thanked || !here.has(key)) sessionStorage.removeItem(key);
    sessionStorage.removeItem(mark);
  }

  for (const form of forms) {
    const sentBack = form.querySelector("[aria-invalid=true]");
    const values = read(keyOf(form));
    if (!sentBack && Object.keys(values).length) {
      fill(form, values);
      form.querySelector("[data-draft-note]")?.removeAttribute("hidden");
    }
    form.addEventListener("input", () => write(form));
    form.addEventListener("submit", () => sessionStorage.setItem(sent + keyOf(form), "1"));
    form.querySelector("[data-draft-drop]")?.addEventListener("click", () => {
      sessionStorage.removeItem(keyOf(form));
      location.reload();
    });
  }

  document.querySelector(".person form")?.addEventListener("submit", () => {
    for (const key of Object.keys(sessionStorage)) {
      if (key.startsWith(prefix) || key.startsWith(sent)) sessionStorage.removeItem(key);
    }
  });
})();
